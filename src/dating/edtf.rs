//! Extended Date/Time Format (ISO 8601-2:2019, Library of Congress 2012).
