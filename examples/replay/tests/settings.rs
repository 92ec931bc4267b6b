//! Settings that do not fit are refused, and the message names what would.

mod common;

use common::cli::{replay, replay_stdin};
use common::recording::{HEADER, wave};
use std::fs;
use tempfile::TempDir;

#[test]
fn settings_that_do_not_fit_are_refused_by_name() {
    for (args, name) in [
        (["--weight-g", "12"], "weight_g"),
        (["--threshold-lpm", "-0.2"], "threshold_lpm must be above zero"),
        (["--threshold-lpm", "nan"], "threshold_lpm"),
        (["--set-rate", "400"], "set_rate is above the largest allowed value; it must be 0 to 150"),
        (["--weight-g", "0.98"], "the weight is in grams: 0.98 kg are 980 g"),
        (["--weight-g", "x"], "a whole number of grams, 200 to 200000"),
    ] {
        let outcome = replay(&args);
        assert_eq!(outcome.code, 2, "{args:?}");
        assert!(outcome.stderr.contains(name), "{args:?}: {}", outcome.stderr);
    }
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("s.toml");
    for (text, reason) in [
        ("weight = 3\n", "unknown field `weight`"),
        ("target_ml = 5\n", "target_ml needs target_ceiling_cmH2O"),
        ("target_step_cmH2O = 3\n", "without target_ml"),
        ("target_ml = 5\ntarget_ceiling_cmH2O = 90\n", "target_ceiling_cmH2O is above"),
        ("grid_step_lpm = 0.1\n", "go together"),
        ("[alarms]\nrate_low = 80\nrate_high = 30\n", "lower end above its upper end"),
        ("[alarms]\napnoea_s = 5\n", "apnoea_s is below"),
        ("[alarms]\napnoea_s = -15\n", "apnoea_s must not be negative"),
        ("[alarms]\nrate_high = 70\ndelay_s = -1\n", "delay_s must not be negative"),
        ("[alarms]\nrate_high = 70\ndelay_s = 6000\n", "delay_s is above"),
        ("[alarms]\nno_input_s = 30\n", "no_input_s is above"),
        ("[alarms]\nsensor_fault_s = 5\nno_input_s = 3\n", "no_input_s contradicts"),
        ("limit_ml = 5\nlimit_delay_ms = -20\n", "limit_delay_ms"),
        ("limit_ml = 5\nlimit_delay_ms = 900\n", "limit_delay_ms is above"),
        ("oxygen_percent = 500\n", "; it must be 15 to 100"),
        ("oxygen_percent = -21\n", "; it must be 15 to 100"),
        ("peak_cmH2O = 200\n", "peak_cmH2O is above"),
        ("peak_cmH2O = 14\nsupport_peak_cmH2O = 16\n", "support_peak_cmH2O contradicts"),
        ("gap_ms = 1\n", "gap_ms is below"),
        ("grid_lowest_lpm = 0\ngrid_step_lpm = 0.1\n", "grid_lowest_lpm must be above zero"),
        ("[[changes]]\nat_s = 60\n", "entry 1 changes nothing"),
        ("oxygen_percent = 0.27\n", "oxygen_percent 0.27 is a share; it must be 15 to 100: say 27"),
        (
            "[alarms]\nleak_high_percent = 400\n",
            "leak_high_percent 400 is out of range; it must be above 0 to 100",
        ),
        (
            "[[changes]]\nat_s = 60\nheart_rate = 15000\n",
            "the entry at 60 s: heart_rate 15000 is out of range; it must be 20 to 350",
        ),
        (
            "[[changes]]\nat_s = 99999\nset_rate = 400\n",
            "the entry at 99999 s: set_rate is above the largest allowed value; it must be 0 to 150",
        ),
        ("tube_length_mm = 130\n", "tube_mm and tube_length_mm go together"),
        (
            "needed_ml_per_kg_min = -5\n",
            "needed_ml_per_kg_min -5 is out of range; it must be above 0 to 1000",
        ),
        ("weight_g = 0.98\n", "the weight is in grams: 0.98 kg are 980 g"),
        (
            "[alarms]\nlow = 3\n",
            "unknown field `low` in [alarms], line 2; the nearest that is known: rate_low,",
        ),
        (
            "wieght_g = 3\n",
            "unknown field `wieght_g` outside of any table, line 1; the nearest that is known: weight_g",
        ),
        (
            "set_rate = 40\n[alarm]\nrate_low = 3\n",
            "unknown field `alarm` outside of any table, line 2; the nearest that is known: alarms",
        ),
        (
            "[[changes]]\nat_s = 1\npeak = 3\n",
            "unknown field `peak` in [[changes]], line 3; the nearest that is known: peak_cmH2O",
        ),
    ] {
        fs::write(&path, text).unwrap();
        let outcome = replay(&["--settings", path.to_str().unwrap()]);
        assert_eq!(outcome.code, 2, "{text}");
        assert!(outcome.stderr.contains(reason), "{text}: {}", outcome.stderr);
    }
}

/// Every range that a message names: at its ends a value is taken, and beyond them refused with that range.
#[test]
fn a_range_that_is_named_is_the_one_that_holds() {
    let folder = TempDir::new().unwrap();
    let (settings, input) = (folder.path().join("s.toml"), folder.path().join("in.csv"));
    fs::write(&input, HEADER.to_owned() + &wave(0, 3)).unwrap();
    let args = [input.to_str().unwrap(), "--quiet", "--settings", settings.to_str().unwrap()];
    let cases = [
        ("weight_g", "200", "200000", "199", "200001", "200 to 200000"),
        ("threshold_lpm", "0.01", "60", "0", "60.01", "above 0 to 60"),
        ("set_rate", "0", "150", "-1", "151", "0 to 150"),
        ("peak_cmH2O", "0.1", "100", "0", "101", "above 0 to 100"),
        (
            "support_peak_cmH2O",
            "0",
            "100",
            "-1",
            "101",
            "above 0 to 100, and no more than the peak; 0 for none",
        ),
        ("oxygen_percent", "15", "100", "14", "101", "15 to 100"),
        ("needed_ml_per_kg_min", "1", "1000", "0", "1001", "above 0 to 1000"),
        ("pressure_step_cmH2O", "0.1", "5", "0.09", "5.1", "0.1 to 5"),
        ("tube_length_mm = 130\ntube_mm", "2", "4.5", "1.9", "4.6", "2 to 4.5"),
        ("tube_mm = 3\ntube_length_mm", "20", "400", "19", "401", "20 to 400"),
        ("tube_k2 = 5\ntube_k1", "0", "1000", "-1", "1001", "0 to 1000"),
        ("tube_k1 = 5\ntube_k2", "0", "10000", "-1", "10001", "0 to 10000"),
        ("flow_offset_ml_per_s", "-50", "50", "-51", "51", "-50 to 50"),
        ("target_ceiling_cmH2O = 30\ntarget_ml", "0.5", "2000", "0.4", "2001", "0.5 to 2000"),
        (
            "target_ceiling_cmH2O = 30\ntarget_ml = 5\ntarget_step_cmH2O",
            "0.1",
            "10",
            "0.09",
            "10.1",
            "0.1 to 10",
        ),
        (
            "target_least_rise_cmH2O = 0.5\ntarget_ml = 5\ntarget_ceiling_cmH2O",
            "1",
            "80",
            "0.9",
            "81",
            "1 to 80",
        ),
        (
            "target_ceiling_cmH2O = 30\ntarget_ml = 5\ntarget_least_rise_cmH2O",
            "0.5",
            "20",
            "0.4",
            "21",
            "0.5 to 20",
        ),
        ("limit_ml = 5\nlimit_delay_ms", "0", "500", "501", "900", "0 to 500"),
        ("min_flow_ml_per_s", "0.11", "1000", "0.09", "1001", "0.1 to 1000"),
        ("min_volume_ml", "0.06", "1000", "0.04", "1001", "0.05 to 1000"),
        ("inflation_rise_cmH2O", "0.5", "20", "0.4", "21", "0.5 to 20"),
        ("cut_ms = 30000\ngap_ms", "5", "1000", "4", "1001", "5 to 1000"),
        ("gap_ms = 5\ncut_ms", "5", "30000", "4", "30001", "5 to 30000"),
        ("frozen_ms", "50", "10000", "49", "10001", "50 to 10000"),
        ("[alarms]\napnoea_s", "10", "20", "9", "21", "10 to 20"),
        ("[alarms]\nno_input_s = 10\nsensor_fault_s", "0.5", "10", "0.4", "11", "0.5 to 10"),
        ("[alarms]\nsensor_fault_s = 0.5\nno_input_s", "0.5", "10", "0.4", "11", "0.5 to 10"),
        ("[alarms]\nrate_high = 70\ndelay_s", "0", "600", "-1", "601", "0 to 600"),
        ("[alarms]\nleak_high_percent", "1", "100", "0", "101", "above 0 to 100"),
        ("[[changes]]\nat_s = 1\nheart_rate", "20", "350", "19", "351", "20 to 350"),
        ("[[changes]]\nat_s = 1\nsaturation_percent", "0", "100", "101", "102", "0 to 100"),
    ];
    for (entry, least, most, below, above, range) in cases {
        for (value, is_in) in [(least, true), (most, true), (below, false), (above, false)] {
            fs::write(&settings, format!("{entry} = {value}\n")).unwrap();
            let outcome = replay(&args);
            let is_taken = outcome.code == 0;
            assert_eq!(is_taken, is_in, "{entry} = {value}: {}", outcome.stderr);
            let name = entry.lines().last().unwrap();
            let says = outcome.stderr.contains(name)
                && outcome.stderr.contains(&format!("must be {range}"))
                || name == "weight_g" && outcome.stderr.contains(range);
            assert!(is_in || says, "{entry} = {value}: {}", outcome.stderr);
        }
    }
}

#[test]
fn a_change_after_the_end_is_told() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("s.toml");
    fs::write(&path, "[[changes]]\nat_s = 99\nset_rate = 30\n").unwrap();
    let outcome = replay_stdin(
        &["-", "--settings", path.to_str().unwrap()],
        &(HEADER.to_owned() + &wave(0, 10)),
    );
    let said = "one change told lie after the end of the recording, 10 s, and were not made";
    assert!(outcome.stderr.contains(said), "{}", outcome.stderr);
}

#[test]
fn a_support_of_zero_is_none() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("s.toml");
    fs::write(&path, "set_rate = 0\nsupport_peak_cmH2O = 0\n").unwrap();
    let recording = HEADER.to_owned() + &wave(0, 10);
    let outcome = replay_stdin(&["-", "--settings", path.to_str().unwrap()], &recording);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
}
