//! Arbitrary bytes as the settings file: settings or words, no panic and no hang; what is read and written is read as the
//! same again.
#![no_main]

use std::fs;

use evenwave::settings::Settings;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    let folder = std::env::temp_dir().join(format!("settings-fuzz-{}", std::process::id()));
    fs::create_dir_all(&folder).expect("a folder");
    let path = folder.join("settings.ron");
    fs::write(&path, data).expect("written");
    let settings = Settings::at(Some(&path));
    if let Ok(options) = settings.look() {
        settings.write(&options).expect("written");
        assert_eq!(settings.look().as_ref(), Ok(&options));
    }
    settings.read();
    fs::remove_dir_all(folder).expect("gone");
});
