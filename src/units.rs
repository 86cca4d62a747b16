//! Physical quantities as types.
