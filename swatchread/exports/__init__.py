"""The note in other people's formats: plain columns and the colour trade's exchange text."""
