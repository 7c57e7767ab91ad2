//! Whether a pupil's measures change by more than noise.
