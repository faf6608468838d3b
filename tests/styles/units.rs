//! Units as makers write them, in headers and in cells.

use super::read;

/// Reads a log of one piece with one column and answers its value in that catalogue column.
fn one(header: &str, cell: &str, column: &str, study: &str) -> Option<f64> {
    let folder = tempfile::tempdir().expect("a folder for the log");
    let log =
        format!("reed,\"{}\"\n1,\"{}\"\n", header.replace('"', "\"\""), cell.replace('"', "\"\""));
    std::fs::write(folder.path().join("reeds.csv"), log).expect("written");
    std::fs::write(folder.path().join("study.toml"), study).expect("written");
    read(folder.path().to_path_buf()).study.numbers(column)[0]
}

#[test]
fn whatever_unit_a_maker_writes_becomes_the_catalogues() {
    let cases = [
        ("Gouge (.001)", "50", "gouge_center_mm", 1.27),
        ("gouge_center_thou", "50", "gouge_center_mm", 1.27),
        ("Gouge", "0.05 in", "gouge_center_mm", 1.27),
        ("Gouge (.001)", "1.30 mm", "gouge_center_mm", 1.3),
        ("gouge um", "1270", "gouge_center_mm", 1.27),
        ("Cane Ø (in)", "1", "tube_diameter_mm", 25.4),
        ("Cane diameter [cm]", "2.5", "tube_diameter_mm", 25.0),
        ("length", "2 3/16 in", "length_mm", 55.5625),
        ("Density (kg/m³)", "537", "density_g_cm3", 0.537),
        ("density_g_cm3", "0.55", "density_g_cm3", 0.55),
        ("weeks on pin", "2", "forming_days", 14.0),
        ("weeks on pin", "10 days", "forming_days", 10.0),
        ("forming_days", "2 wks", "forming_days", 14.0),
        ("soak (hours)", "2", "soak_min", 120.0),
        ("soak_min", "1 h 30", "soak_min", 90.0),
        ("temperature (°F)", "68", "forming_c", 20.0),
        ("RH %", "45", "forming_rh_pct", 45.0),
        ("RH", "45%", "forming_rh_pct", 45.0),
        ("wire", "22 swg", "wire_mm", 0.7112),
        ("Wire (SWG)", "22", "wire_mm", 0.7112),
        ("crow (Hz)", "440", "crow_hz", 440.0),
    ];
    for (header, cell, column, value) in cases {
        assert_eq!(one(header, cell, column, ""), Some(value), "“{header}”: “{cell}”");
    }
}

/// ASTM B258: number 22 is 0.644 mm.
#[test]
fn a_wire_number_of_an_unstated_gauge_is_asked_for_and_then_read() {
    assert_eq!(one("wire", "22 ga", "wire_mm", ""), None);
    assert_eq!(one("wire", "22", "wire_mm", ""), None, "22 mm is no wire");
    for (header, cell) in [("wire", "22 ga"), ("Wire gauge", "22 gauge"), ("wire (gauge)", "22")] {
        let found = one(header, cell, "wire_mm", "wire_gauge = \"awg\"\n");
        let found = found.unwrap_or_else(|| panic!("“{header}”: “{cell}” is read"));
        assert!((found - 0.644).abs() < 0.0005, "“{header}”: “{cell}” gave {found}");
    }
}
