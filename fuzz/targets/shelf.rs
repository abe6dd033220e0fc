#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let _ = settlay_fuzz::feeds::shelf(bytes);
});
