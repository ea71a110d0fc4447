//! The sound devices of this machine that work.

use std::collections::HashSet;

use cpal::SupportedStreamConfig;
use cpal::traits::{DeviceTrait, HostTrait};

/// A device that can be opened.
#[derive(Clone, Debug, PartialEq)]
pub struct Device {
    /// Its name, as the system has it.
    pub name: String,
    /// What names it for good, also after a restart; fit for settings.
    pub id: String,
    /// Whether it is the one used when none is named.
    pub default: bool,
    /// Channels in its preferred setting.
    pub channels: usize,
    /// Samples a second in its preferred setting, in Hz.
    pub sample_rate_hz: u32,
}

/// What works on this machine; both lists may be empty.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Devices {
    /// Microphones and other inputs.
    pub inputs: Vec<Device>,
    /// Loudspeakers and other outputs.
    pub outputs: Vec<Device>,
}

/// Lists the devices whose preferred setting can be had, the default first. Tries each one, which
/// takes some seconds at worst; on Linux the sound library may complain about the others on the
/// standard error output.
pub fn devices() -> Devices {
    let Some(host) = host() else {
        return Devices::default();
    };
    let inputs = host.input_devices().into_iter().flatten();
    let outputs = host.output_devices().into_iter().flatten();
    Devices {
        inputs: working(host.default_input_device(), inputs, |device| {
            device.default_input_config()
        }),
        outputs: working(host.default_output_device(), outputs, |device| {
            device.default_output_config()
        }),
    }
}

/// The system's sound, or `None` where it cannot be reached at all.
pub(crate) fn host() -> Option<cpal::Host> {
    let id = *cpal::available_hosts().first()?;
    cpal::host_from_id(id).ok()
}

/// What the player would call it.
pub(crate) fn name(device: &cpal::Device) -> String {
    match device.description() {
        Ok(description) => description.name().to_owned(),
        Err(_) => id(device),
    }
}

/// Whether the player means this device by `name`: its name or its id.
pub(crate) fn is_called(device: &cpal::Device, name: &str) -> bool {
    self::name(device) == name || id(device) == name
}

fn id(device: &cpal::Device) -> String {
    device.id().map(|id| id.to_string()).unwrap_or_default()
}

fn working(
    default: Option<cpal::Device>,
    others: impl Iterator<Item = cpal::Device>,
    preferred: impl Fn(&cpal::Device) -> Result<SupportedStreamConfig, cpal::Error>,
) -> Vec<Device> {
    let mut seen = HashSet::new();
    let marked = default.into_iter().map(|device| (device, true));
    let all = marked.chain(others.map(|device| (device, false)));
    all.filter_map(|(device, default)| {
        let id = id(&device);
        // ALSA's `null` opens, hears nothing and plays to nobody.
        if id.ends_with(":null") || !seen.insert(id.clone()) {
            return None;
        }
        let setting = preferred(&device).ok()?;
        Some(Device {
            name: name(&device),
            id,
            default,
            channels: setting.channels().into(),
            sample_rate_hz: setting.sample_rate(),
        })
    })
    .collect()
}
