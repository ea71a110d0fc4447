//! Sound as FLAC (RFC 9639), written frame by frame, so that a file that breaks off can still be read.

use std::cell::Cell;
use std::io::{self, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::rc::Rc;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use flac_codec::decode::{FlacSampleReader, Metadata};
use flac_codec::encode::{FlacSampleWriter, Options};

use disk::DiskFile;

/// Bits of a sample: as many as the best converters give.
const BITS: u32 = 24;
/// Full scale.
const FULL: f64 = (1_u32 << (BITS - 1)) as f64;

/// A file that the encoder writes to and that is flushed from outside.
#[derive(Clone)]
struct Out(Arc<Mutex<BufWriter<DiskFile>>>);

impl Out {
    fn file(&self) -> MutexGuard<'_, BufWriter<DiskFile>> {
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
    /// Begins sound at `rate_hz` in a file that is empty.
    pub fn new(file: DiskFile, rate_hz: u32) -> io::Result<Self> {
        let out = Out(Arc::new(Mutex::new(BufWriter::new(file))));
        let options = Options::default().no_padding().no_seektable();
        let encoder = FlacSampleWriter::new(out.clone(), options, rate_hz, BITS, 1, None);
        Ok(Self { encoder: encoder.map_err(told)?, out, samples: 0, whole: Vec::new() })
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

    /// Takes samples as they stood in another file.
    pub(crate) fn copy(&mut self, whole: &[i32]) -> io::Result<()> {
        self.samples += whole.len() as u64;
        self.encoder.write(whole).map_err(told)
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

thread_local! {
    static DECODING: Cell<bool> = const { Cell::new(false) };
}

/// Whether this thread is inside the decoding library. A panic there is caught and told as damage, so that a panic hook
/// has nothing to say of it.
pub fn is_decoding() -> bool {
    DECODING.get()
}

/// What could be read of a file of sound.
#[derive(Debug, Default)]
pub(crate) struct Decoded {
    /// Samples of all whole frames up to where it ends or breaks off.
    pub samples: u64,
    /// Samples a second; 0 where there is no head.
    pub rate_hz: u32,
    /// Why it was not read to its end, if it was not.
    pub broken: Option<String>,
    /// Bytes that were not read.
    pub rest: u64,
}

/// Reads a file frame by frame, as far as it goes, and hands on the samples. What a crash left is damaged by
/// nature, so that this is no error; one of `take` is.
pub(crate) fn hear(
    path: &Path,
    mut take: impl FnMut(&[i32], u32) -> io::Result<()>,
) -> io::Result<Decoded> {
    let file = disk::open(path)?;
    let bytes = file.metadata()?.len();
    let (read, whole) = (Rc::new(Cell::new(0)), Rc::new(Cell::new(0)));
    let counted = Counted { inner: BufReader::new(file), read: Rc::clone(&read) };
    let mut heard = Decoded::default();
    // A decoder that panics on damage has read all it could.
    DECODING.set(true);
    let outcome = catch_unwind(AssertUnwindSafe(|| -> io::Result<Option<String>> {
        let mut reader = match FlacSampleReader::new(counted) {
            Ok(reader) => reader,
            Err(error) => return Ok(Some(error.to_string())),
        };
        let (channels, bits) = (reader.channel_count(), reader.bits_per_sample());
        if (channels, bits) != (1, BITS) {
            let words = format!("{channels} channels of {bits} bits, not one of {BITS}");
            return Ok(Some(words));
        }
        heard.rate_hz = reader.sample_rate();
        whole.set(read.get());
        loop {
            let count = match reader.fill_buf() {
                Ok([]) => break,
                Ok(frame) => {
                    take(frame, heard.rate_hz)?;
                    frame.len()
                }
                Err(error) => return Ok(Some(error.to_string())),
            };
            reader.consume(count);
            heard.samples += count as u64;
            whole.set(read.get());
        }
        Ok(None)
    }));
    DECODING.set(false);
    heard.broken = match outcome {
        Ok(outcome) => outcome?,
        Err(_) => Some("it makes no sense".to_owned()),
    };
    heard.rest = bytes.saturating_sub(whole.get());
    Ok(heard)
}

/// Counts what is read.
struct Counted<R> {
    inner: R,
    read: Rc<Cell<u64>>,
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(into)?;
        self.read.set(self.read.get() + count as u64);
        Ok(count)
    }
}
