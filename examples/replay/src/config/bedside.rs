//! What the report needs to know besides the machine's settings.

use super::File;
use super::number::{Spelled, between, number};
use super::range::told;
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
        if let Some(share) = oxygen.filter(|share| *share > 0.0 && *share <= 1.0) {
            bail!(
                "oxygen_percent {share} is a share{}: say {}",
                told("oxygen_percent"),
                share * 100.0
            );
        }
        let oxygen = oxygen.map(|percent| {
            between("oxygen_percent", percent, 15.0, true, 100.0)?;
            number("oxygen_percent", percent / 100.0)
        });
        let oxygen = oxygen.transpose()?;
        let grid = match file.pressure_step_cmH2O {
            Some(step) => {
                let milli = (number("pressure_step_cmH2O", step)?.to_num::<f64>() * 1e3).round();
                PressureGrid::from_milli(milli.clamp(0.0, 65_535.0) as u16)
                    .spelled(&[("step_milli", "pressure_step_cmH2O")])?
            }
            None => PressureGrid::default(),
        };
        let needed = file
            .needed_ml_per_kg_min
            .map(|x| between("needed_ml_per_kg_min", x, 0.0, false, 1_000.0));
        let needed = needed.transpose()?.map(MinuteVolumePerKg::new);
        let given = measured(file)?;
        let is_told = file.tube_mm.is_some() || file.tube_length_mm.is_some();
        let size = if is_told { file } else { defaults };
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
            let tube = TubeResistance::new(k1, number("tube_k2", k2)?);
            tube.spelled(&[("k1", "tube_k1"), ("k2", "tube_k2")]).map(Some)
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
    let names = [("inner_tenths", "tube_mm"), ("length_mm", "tube_length_mm")];
    let geometry = TubeGeometry::new(tenths, length).spelled(&names)?;
    let at = |flow: Flow| Ok::<_, SettingError>((flow, geometry.least_drop(flow, BEND_MM)?.value));
    Ok(Some(TubeResistance::from_points(at(Flow::from_int(50))?, at(Flow::from_int(100))?)?))
}
