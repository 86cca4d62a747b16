//! Sun, sky and tilted planes.
