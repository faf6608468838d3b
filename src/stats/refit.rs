//! Least squares again and again from the cross-products of the groups.
