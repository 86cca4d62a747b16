//! Where the energy came from and where it went.

/// Energy account of a trial \[Wh\]. `solar + wall + start = served + losses + curtailed + end` in every trial.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ledger {
    /// What the panels could have given, after temperature, dirt and cable.
    pub solar_wh: f64,
    /// Of that, what was not taken, for whatever reason: the sum of the next two and what a full battery left over.
    pub curtailed_wh: f64,
    /// Of the curtailed: outside the input's volts, amps or watts.
    pub clipped_wh: f64,
    /// Of the curtailed: refused while the cells were too cold or too hot to be charged at all.
    pub barred_wh: f64,
    /// Drawn from the wall or a generator.
    pub wall_wh: f64,
    /// Lost in the wall charger.
    pub wall_loss_wh: f64,
    /// Drawn by the heater that warms cold cells.
    pub heater_wh: f64,
    /// In the cells at the start.
    pub start_wh: f64,
    /// In the cells at the end.
    pub end_wh: f64,
    /// Delivered at the AC, DC and USB outlets.
    pub served_wh: [f64; 3],
    /// Lost between panel terminals and bus.
    pub solar_input_loss_wh: f64,
    /// Lost on the way into the cells.
    pub charging_loss_wh: f64,
    /// Lost on the way out of the cells.
    pub discharging_loss_wh: f64,
    /// Lost in the AC, DC and USB converters, idle draw included.
    pub outlet_loss_wh: [f64; 3],
    /// Drawn by the station's own electronics.
    pub own_draw_wh: f64,
    /// Lost by the cells by themselves.
    pub self_discharge_wh: f64,
}

impl Ledger {
    /// Delivered at all outlets \[Wh\].
    #[must_use]
    pub fn delivered_wh(&self) -> f64 {
        self.served_wh.iter().sum()
    }

    /// All losses \[Wh\], curtailed energy not among them.
    #[must_use]
    pub fn losses_wh(&self) -> f64 {
        self.solar_input_loss_wh
            + self.wall_loss_wh
            + self.heater_wh
            + self.charging_loss_wh
            + self.discharging_loss_wh
            + self.outlet_loss_wh.iter().sum::<f64>()
            + self.own_draw_wh
            + self.self_discharge_wh
    }

    /// What the account fails to balance by, as a share of its turnover \[–\]; rounding alone leaves about 1e-15 a step.
    #[must_use]
    pub fn imbalance(&self) -> f64 {
        let into = self.solar_wh + self.wall_wh + self.start_wh;
        let out = self.delivered_wh() + self.losses_wh() + self.curtailed_wh + self.end_wh;
        (into - out).abs() / into.max(1.0)
    }

    /// Adds another account to this one.
    pub fn add(&mut self, other: &Ledger) {
        self.solar_wh += other.solar_wh;
        self.curtailed_wh += other.curtailed_wh;
        self.clipped_wh += other.clipped_wh;
        self.barred_wh += other.barred_wh;
        self.wall_wh += other.wall_wh;
        self.wall_loss_wh += other.wall_loss_wh;
        self.heater_wh += other.heater_wh;
        self.start_wh += other.start_wh;
        self.end_wh += other.end_wh;
        self.solar_input_loss_wh += other.solar_input_loss_wh;
        self.charging_loss_wh += other.charging_loss_wh;
        self.discharging_loss_wh += other.discharging_loss_wh;
        self.own_draw_wh += other.own_draw_wh;
        self.self_discharge_wh += other.self_discharge_wh;
        for k in 0..3 {
            self.served_wh[k] += other.served_wh[k];
            self.outlet_loss_wh[k] += other.outlet_loss_wh[k];
        }
    }

    /// Every entry times `factor`.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Ledger {
        let mut sum = Ledger::default();
        sum.add(self);
        for entry in [
            &mut sum.solar_wh,
            &mut sum.curtailed_wh,
            &mut sum.clipped_wh,
            &mut sum.barred_wh,
            &mut sum.wall_wh,
            &mut sum.wall_loss_wh,
            &mut sum.heater_wh,
            &mut sum.start_wh,
            &mut sum.end_wh,
            &mut sum.solar_input_loss_wh,
            &mut sum.charging_loss_wh,
            &mut sum.discharging_loss_wh,
            &mut sum.own_draw_wh,
            &mut sum.self_discharge_wh,
        ]
        .into_iter()
        .chain(sum.served_wh.iter_mut())
        .chain(sum.outlet_loss_wh.iter_mut())
        {
            *entry *= factor;
        }
        sum
    }
}
