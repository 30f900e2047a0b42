//! Plate sizes of the trade.
