//! What stands in `firmware-notes`: the vectors of the wire format hold for the reader, and the sketches print what they say.

mod eight_bit;
mod micropython;
mod vectors;
