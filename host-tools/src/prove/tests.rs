//! Tests of the circuit that need its inside.

use super::circuit::with_system;
use crate::testing::demo_station;

#[test]
fn every_cell_has_its_own_name() {
    for which in ["drive", "return"] {
        let station = demo_station(which);
        let cells = with_system(&station, |_, system| system.cells.clone()).unwrap();
        let mut names: Vec<&str> = cells.iter().map(|c| c.name.as_str()).collect();
        names.sort_unstable();
        let twice: Vec<&[&str]> = names.windows(2).filter(|pair| pair[0] == pair[1]).collect();
        assert_eq!(twice, [[""; 2]; 0]);
        assert!(names.iter().all(|name| !name.is_empty() && !name.contains(' ')));
        assert!(cells.iter().all(|cell| cell.now.len() == cell.next.len()));
    }
}
