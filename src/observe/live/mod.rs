//! A live host, looked at and never changed.
