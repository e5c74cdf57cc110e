//! Tests of quantities.
