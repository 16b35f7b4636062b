//! Tests of the resolving.
