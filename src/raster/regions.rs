//! Connected regions and shapes of masks.
