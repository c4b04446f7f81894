"""Pure rules: what an event may do to the record. No input or output, no clock, no SQL."""
