//! What the report needs to know besides the machine's settings.

use super::File;
use super::number::number;
use anyhow::{Result, bail};
use tidevane::bedside::PressureGrid;
use tidevane::mechanics::{TubeGeometry, TubeResistance};
use tidevane::quantity::{Flow, MinuteVolumePerKg, Resistance, SettingError, Share};

/// A tube bent to this radius: as in the worked values of the tube's docs, an assumption.
const BEND_MM: u16 = 140;

/// Oxygen, tube, the machine's pressure steps and the volume wanted.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Bedside {
    pub(crate) oxygen: Option<Share>,
    pub(crate) tube: Option<TubeResistance>,
    /// The tube's coefficients come from its size alone and are lower bounds.
    pub(crate) tube_is_bound: bool,
    pub(crate) grid: PressureGrid,
    pub(crate) needed: Option<MinuteVolumePerKg>,
}

impl Bedside {
    pub(super) fn of(file: &File, defaults: &File) -> Result<Self> {
        let oxygen = file.oxygen_percent.or(defaults.oxygen_percent);
        if oxygen.is_some_and(|percent| !(percent > 0.0 && percent <= 100.0)) {
            bail!("oxygen_percent must be above 0 and at most 100");
        }
        let oxygen = oxygen.map(|p| number("oxygen_percent", p / 100.0)).transpose()?;
        let grid = match file.pressure_step_cmH2O {
            Some(step) => {
                let milli = (number("pressure_step_cmH2O", step)?.to_num::<f64>() * 1e3).round();
                PressureGrid::from_milli(milli.clamp(0.0, 65_535.0) as u16)?
            }
            None => PressureGrid::default(),
        };
        let needed = file.needed_ml_per_kg_min.map(|x| number("needed_ml_per_kg_min", x));
        let needed = needed.transpose()?.map(MinuteVolumePerKg::new);
        let given = measured(file)?;
        let size = if file.tube_mm.is_some() { file } else { defaults };
        let tube = match given {
            Some(tube) => Some(tube),
            None => by_size(size)?,
        };
        Ok(Self {
            oxygen: oxygen.map(Share::new),
            tube,
            tube_is_bound: given.is_none(),
            grid,
            needed,
        })
    }
}

/// A tube by measured coefficients.
fn measured(file: &File) -> Result<Option<TubeResistance>> {
    match (file.tube_k1, file.tube_k2) {
        (None, None) => Ok(None),
        (Some(k1), Some(k2)) => {
            let k1 = Resistance::new(number("tube_k1", k1)?);
            Ok(Some(TubeResistance::new(k1, number("tube_k2", k2)?)?))
        }
        _ => bail!("tube_k1 and tube_k2 go together"),
    }
}

/// A tube by its size: a line through the least drops at 3 and 6 L/min.
fn by_size(file: &File) -> Result<Option<TubeResistance>> {
    let (Some(mm), Some(length)) = (file.tube_mm, file.tube_length_mm) else {
        if file.tube_mm.is_some() || file.tube_length_mm.is_some() {
            bail!("tube_mm and tube_length_mm go together");
        }
        return Ok(None);
    };
    let tenths = (number("tube_mm", mm)?.to_num::<f64>() * 10.0).round().clamp(0.0, 255.0) as u8;
    let geometry = TubeGeometry::new(tenths, length)?;
    let at = |flow: Flow| Ok::<_, SettingError>((flow, geometry.least_drop(flow, BEND_MM)?.value));
    Ok(Some(TubeResistance::from_points(at(Flow::from_int(50))?, at(Flow::from_int(100))?)?))
}
