//! Quantities: dimensions, units, exact rational values, decimal text.

use num_rational::BigRational;

/// What a quantity measures. Only quantities of one dimension are added or compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// A pure number, no unit.
    Number,
    /// Gauge pressure: bar, kPa, MPa, psi.
    Pressure,
    /// Absolute pressure: bar_abs.
    AbsolutePressure,
    /// m, mm, cm, km, ft, in.
    Length,
    /// mm2.
    Area,
    /// Water capacity: L, m3, ft3.
    Volume,
    /// Free air (20 degC, 1.01325 bar, dry): L/min, m3/h, ft3/min.
    Flow,
    /// A point on a temperature scale: °C, °F.
    Temperature,
    /// A difference of temperatures: K, dF.
    TemperatureDifference,
    /// s, min, h.
    Duration,
    /// A.
    Current,
    /// V.
    Voltage,
    /// Hz.
    Frequency,
    /// kW, W, hp.
    Power,
    /// Parts by volume: ppm, %.
    Fraction,
    /// mg/m3.
    Concentration,
    /// m/s, km/h, mph, kn.
    Speed,
    /// deg.
    Angle,
}

/// An exact value in the base unit of its dimension.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quantity {
    /// Exact, in the base unit of the dimension.
    pub value: BigRational,
    /// The dimension.
    pub dimension: Dimension,
}
