//! Measures: CER, WER, top-k, MRR, Brier, ECE, and their reports.
