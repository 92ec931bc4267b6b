//! Which values an entry may have: as the core has it, in words.

/// Entries that are numbers, and their ranges.
const RANGES: [(&str, &str); 36] = [
    ("weight_g", "200 to 200000"),
    ("threshold_lpm", "above 0 to 60"),
    ("set_rate", "0 to 150"),
    ("peak_cmH2O", "above 0 to 100"),
    ("support_peak_cmH2O", "above 0 to 100, and no more than the peak; 0 for none"),
    ("oxygen_percent", "15 to 100"),
    ("needed_ml_per_kg_min", "above 0 to 1000"),
    ("pressure_step_cmH2O", "0.1 to 5"),
    ("tube_mm", "2 to 4.5"),
    ("tube_length_mm", "20 to 400"),
    ("tube_k1", "0 to 1000"),
    ("tube_k2", "0 to 10000"),
    ("flow_offset_ml_per_s", "-50 to 50, and no more than half of flow_range_ml_per_s"),
    ("target_ml", "0.5 to 2000"),
    ("target_step_cmH2O", "0.1 to 10"),
    ("target_ceiling_cmH2O", "1 to 80"),
    ("target_least_rise_cmH2O", "0.5 to 20, and less than the ceiling"),
    ("grid_lowest_lpm", "above 0"),
    ("grid_step_lpm", "above 0"),
    ("limit_ml", "above 0, and at most 50 for each kilogram"),
    ("limit_delay_ms", "0 to 500"),
    ("min_flow_ml_per_s", "0.1 to 1000"),
    ("min_volume_ml", "0.05 to 1000"),
    ("inflation_rise_cmH2O", "0.5 to 20"),
    ("flow_range_ml_per_s", "above 0, and at least the threshold"),
    ("pressure_range_cmH2O", "above 0"),
    ("gap_ms", "5 to 1000"),
    ("cut_ms", "5 to 30000, and at least gap_ms"),
    ("frozen_ms", "50 to 10000"),
    ("apnoea_s", "10 to 20"),
    ("sensor_fault_s", "0.5 to 10"),
    ("no_input_s", "0.5 to 10, and at least sensor_fault_s"),
    ("delay_s", "0 to 600"),
    ("leak_high_percent", "above 0 to 100"),
    ("heart_rate", "20 to 350"),
    ("saturation_percent", "0 to 100"),
];

/// The range of an entry as the end of a message; empty where none is known.
pub(super) fn told(entry: &str) -> String {
    let found = RANGES.iter().find(|(name, _)| *name == entry);
    found.map_or(String::new(), |(_, range)| format!("; it must be {range}"))
}
