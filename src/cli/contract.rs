//! The JSON that outside scripts rely on, shaped in one place, apart from the inner types.
