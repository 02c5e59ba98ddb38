"""What is printed in a terminal, made as plain text."""
