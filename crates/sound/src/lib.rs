//! Devices, the lock-free ring, decoding, resampling and WAV files.
