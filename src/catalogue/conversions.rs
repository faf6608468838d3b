//! Published conversions, each with its source.
