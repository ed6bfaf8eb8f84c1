"""The full screens and the dialogues over them."""
