//! The ear of evenwave for Python: what the package `evenwave` beside this calls.

use pyo3::pymodule;

#[pymodule]
mod _evenwave {
    use std::path::{Path, PathBuf};

    use evenwave::for_programs::{Heard, frames, how, notes};
    use pyo3::exceptions::PyValueError;
    use pyo3::prelude::*;
    use pyo3::types::PyBytes;

    /// The notes of a file as JSON.
    #[pyfunction]
    fn notes_of_file(py: Python<'_>, path: PathBuf, options: Vec<String>) -> PyResult<String> {
        notes_of(py, Heard::File(&path), &options)
    }

    /// The notes of samples (32-bit floats in the order of this machine) as JSON.
    #[pyfunction]
    fn notes_of_samples(
        py: Python<'_>,
        samples: &[u8],
        rate_hz: u32,
        options: Vec<String>,
    ) -> PyResult<String> {
        notes_of(py, Heard::Samples(&floats(samples), rate_hz), &options)
    }

    /// The frames of a file: four columns of 64-bit floats.
    #[pyfunction]
    fn frames_of_file<'py>(
        py: Python<'py>,
        path: PathBuf,
        options: Vec<String>,
    ) -> PyResult<Vec<Bound<'py, PyBytes>>> {
        frames_of(py, Heard::File(Path::new(&path)), &options)
    }

    /// The frames of samples: four columns of 64-bit floats.
    #[pyfunction]
    fn frames_of_samples<'py>(
        py: Python<'py>,
        samples: &[u8],
        rate_hz: u32,
        options: Vec<String>,
    ) -> PyResult<Vec<Bound<'py, PyBytes>>> {
        frames_of(py, Heard::Samples(&floats(samples), rate_hz), &options)
    }

    fn notes_of(py: Python<'_>, heard: Heard<'_>, options: &[String]) -> PyResult<String> {
        let ear = how(options).map_err(PyValueError::new_err)?;
        py.detach(|| notes(heard, &ear).map_err(|fault| fault.to_string()))
            .map_err(PyValueError::new_err)
    }

    fn frames_of<'py>(
        py: Python<'py>,
        heard: Heard<'_>,
        options: &[String],
    ) -> PyResult<Vec<Bound<'py, PyBytes>>> {
        let ear = how(options).map_err(PyValueError::new_err)?;
        let columns = py
            .detach(|| frames(heard, &ear).map_err(|fault| fault.to_string()))
            .map_err(PyValueError::new_err)?;
        let bytes = |column: &Vec<f64>| -> Vec<u8> {
            column.iter().flat_map(|number| number.to_ne_bytes()).collect()
        };
        Ok(columns.iter().map(|column| PyBytes::new(py, &bytes(column))).collect())
    }

    fn floats(bytes: &[u8]) -> Vec<f32> {
        bytes
            .chunks_exact(4)
            .map(|four| f32::from_ne_bytes([four[0], four[1], four[2], four[3]]))
            .collect()
    }
}
