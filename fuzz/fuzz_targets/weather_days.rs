#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| tideover_fuzz::weather_days(bytes));
