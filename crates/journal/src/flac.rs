//! Sound as FLAC (RFC 9639), written frame by frame, so that a file that breaks off can still be read.

use std::fs::File;
use std::io::{self, BufReader, BufWriter, Seek, SeekFrom, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use flac_codec::decode::FlacSampleReader;
use flac_codec::encode::{FlacSampleWriter, Options};

/// Bits of a sample: as many as the best converters give.
const BITS: u32 = 24;
/// Full scale.
const FULL: f64 = (1_u32 << (BITS - 1)) as f64;

/// A file that the encoder writes to and that is flushed from outside.
#[derive(Clone)]
struct Out(Arc<Mutex<BufWriter<File>>>);

impl Out {
    fn file(&self) -> MutexGuard<'_, BufWriter<File>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Write for Out {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file().write(bytes)
    }
    fn flush(&mut self) -> io::Result<()> {
        self.file().flush()
    }
}

impl Seek for Out {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file().seek(to)
    }
}

/// Writes one channel of sound. What has been saved can be read at any time; `finish` adds the length
/// and the checksum.
pub struct FlacWriter {
    out: Out,
    encoder: FlacSampleWriter<Out>,
    samples: u64,
    whole: Vec<i32>,
}

impl FlacWriter {
    /// Begins a file of sound at `rate_hz`.
    pub fn create(path: &Path, rate_hz: u32) -> io::Result<Self> {
        let out = Out(Arc::new(Mutex::new(BufWriter::new(File::create(path)?))));
        let options = Options::default().no_padding().no_seektable();
        let encoder = FlacSampleWriter::new(out.clone(), options, rate_hz, BITS, 1, None);
        Ok(Self {
            encoder: encoder.map_err(told)?,
            out,
            samples: 0,
            whole: Vec::new(),
        })
    }

    /// Samples that were given so far.
    pub fn samples(&self) -> u64 {
        self.samples
    }

    /// Takes samples, full scale = 1.0; what lies beyond is clipped, and what is no number is 0.
    pub fn write(&mut self, samples: &[f32]) -> io::Result<()> {
        self.whole.clear();
        self.whole.extend(samples.iter().map(|&sample| {
            let sample = if sample.is_finite() { sample } else { 0.0 };
            (f64::from(sample) * FULL).round().clamp(-FULL, FULL - 1.0) as i32
        }));
        self.samples += samples.len() as u64;
        self.encoder.write(&self.whole).map_err(told)
    }

    /// Sees to it that all whole frames so far are on the disk.
    pub fn save(&self) -> io::Result<()> {
        let mut file = self.out.file();
        file.flush()?;
        file.get_ref().sync_data()
    }

    /// Writes the rest, the length and the checksum, and sees to it that they are on the disk.
    pub fn finish(self) -> io::Result<()> {
        self.encoder.finalize().map_err(told)?;
        let mut file = self.out.file();
        file.flush()?;
        file.get_ref().sync_all()
    }
}

fn told(error: flac_codec::Error) -> io::Error {
    match error {
        flac_codec::Error::Io(error) => error,
        other => io::Error::other(other.to_string()),
    }
}

/// The samples of a file up to where it breaks off; none where there is nothing to read.
pub(crate) fn samples_of(path: &Path) -> Vec<f32> {
    let mut samples = Vec::new();
    // What a crash left is damaged by nature; a decoder that panics on it has read all it could.
    let read = catch_unwind(AssertUnwindSafe(|| {
        let Ok(file) = File::open(path) else { return };
        let Ok(mut reader) = FlacSampleReader::new(BufReader::new(file)) else {
            return;
        };
        while let Ok(frame) = reader.fill_buf() {
            if frame.is_empty() {
                break;
            }
            samples.extend(frame.iter().map(|&whole| (f64::from(whole) / FULL) as f32));
            let count = frame.len();
            reader.consume(count);
        }
    }));
    drop(read);
    samples
}
