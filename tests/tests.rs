//! One test binary; each file below is one way of asking whether the program is right.

mod causes;
mod page;
