//! Any bytes as the study file of a log that is sound without one.
#![no_main]

mod desk;

use std::cell::OnceCell;

use libfuzzer_sys::fuzz_target;

const REEDS: &[u8] = b"\
reed,lot,maker,started_on,hardness,gouge_center_mm,scoring,crow,note,fate
1,Alder,Ann,02/01/2024,12,\"1,25\",deep,c,one,in use
2,Alder,Ann,09/01/2024,14,\"1,30\",none,d,two,in use
3,Birch,Bob,16/02/2024,13,\"1,28\",deep,c,,cracked
4,Birch,Bob,23/02/2024,15,\"1,27\",light,e,four,retired
";
const RATINGS: &[u8] = b"\
reed,date,player,response,tone,overall
1,01/03/2024,Ann,6,good,7
2,02/03/2024,Bob,7,fair,8
2,03/03/2024,Ann,5,poor,6
4,04/03/2024,Bob,8,good,9
";
const LOTS: &[u8] = b"lot,supplier,price\nAlder,x,20\nBirch,y,25\n";

thread_local! {
    static DESK: OnceCell<desk::Desk> = const { OnceCell::new() };
}

fuzz_target!(|bytes: &[u8]| {
    let files =
        [("reeds.csv", REEDS), ("ratings.csv", RATINGS), ("lots.csv", LOTS), ("study.toml", bytes)];
    DESK.with(|desk| {
        let log = desk.get_or_init(desk::Desk::new).lay_out(&files);
        let _ = desk::read(log);
    });
});
