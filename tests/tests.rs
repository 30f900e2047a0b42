//! One test binary; each file below is one way of asking whether the program is right.

mod causes;
mod bad_scans;
mod published_scan;
mod refused_scans;
mod scan_files;
mod scans;
mod practice;
mod page;
