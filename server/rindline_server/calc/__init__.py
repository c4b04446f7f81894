"""Pure figures: no database, no clock, no network."""
