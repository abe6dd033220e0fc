#![no_main]

use std::sync::Mutex;

use settlay_fuzz::stranger::Stranger;

static STRANGER: Mutex<Option<Stranger>> = Mutex::new(None);

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let mut stranger = STRANGER.lock().unwrap();
    if let Err(wrong) = stranger.get_or_insert_with(Stranger::default).calls(bytes) {
        panic!("{wrong}");
    }
});
