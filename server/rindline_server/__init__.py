"""The Rindline server: the record of every lot, told by events and asked over HTTP."""
