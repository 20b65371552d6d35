"""The model of the diagnosis: its parameters, first beliefs, and the noisy-OR of causes and codes."""
