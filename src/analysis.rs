//! The whole way for one plate; read this first.
