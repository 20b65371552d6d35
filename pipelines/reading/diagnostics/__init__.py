"""Raw answers of control units in hex: ISO 14229-1, SAE J1979, SAE J1939, and the frames that carry them."""
