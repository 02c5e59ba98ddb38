"""The instrument and the hand: where a bass note lies."""
