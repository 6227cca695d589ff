//! What is kept: pictures, photographs, marks, readings, proposals, and what people decided.
