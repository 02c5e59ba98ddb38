"""The only room that opens files: charts, patterns, MIDI, sound, configuration."""
