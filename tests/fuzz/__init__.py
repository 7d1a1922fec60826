"""Generated inputs and interruptions, beyond what the ordinary tests try; run by hand with any count."""
