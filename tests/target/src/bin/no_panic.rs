//! Links only if no panic can be reached from any public step.
//!
//! The panic handler calls a function that nobody defines. Where the linker drops the handler, no
//! path leads to a panic; where it cannot, it names the missing function and stops. Inputs are
//! opaque, so nothing is worked out beforehand.
#![no_std]
#![no_main]

use core::hint::black_box as opaque;
use tidevane::alarm::{
    Alarms, Apnoea, BreathKind, BreathView, LevelAdvice, LimitAlarm, Limits, ShortApnoea, Signs,
    VolumeHistory, anatomical_dead_space,
};
use tidevane::breath::Totals;
use tidevane::leak::Leak;
use tidevane::mechanics::{
    Cycle, Emptying, Fit, Rohrer, TubeGeometry, c20_level, c20_of_curve, c20_over_c,
    compliance_by_weight, exhaled_share, flow_cycle_time,
};
use tidevane::monitor::{Breaths, Journal, Monitor, Settings};
use tidevane::quantity::{
    Compliance, Flow, Mass, MinuteVolumePerKg, Moment, Pressure, Rate, Resistance, Share, Span,
    Tick, Volume,
};
use tidevane::signal::gas::{Celsius, GasState};
use tidevane::signal::{End, FlowTable, Interval, Reading, Sample, ZeroCapture, ZeroCaptureState};
use tidevane::trigger::Threshold;
use tidevane::volume::{Limiter, Proposal};
use tidevane::wean::{
    Before, BreathingTrial, EntryLimits, Inflation, Load, Measurements, MinuteVolumeRatio, OwnRun,
    Plan, Present, PressureGrid, RapidShallow, Readiness, ReadinessState, ShareOfPeak, ShareOfRise,
    StepSizes, Stopping, SupportShare, Supported, TimeBelow, TimeBelowState, Trend, TrialEvent,
    TrialState, TwoByTwo, Way, occlusion_mean, tension_time,
};

unsafe extern "C" {
    fn a_panic_can_be_reached() -> !;
}

#[panic_handler]
fn panic(_: &core::panic::PanicInfo) -> ! {
    // SAFETY: never linked into a program that runs; the missing function is the proof's alarm.
    unsafe { a_panic_can_be_reached() }
}

fn settings() -> Option<Settings> {
    let threshold = Threshold::new(Flow::from_bits(opaque(1))).ok()?;
    let target = Volume::from_bits(opaque(1));
    let delay = Span::from_us(opaque(1));
    let limiter = Limiter::of_target(target, Share::from_bits(opaque(1)), delay).ok()?;
    let cmh2o = || Pressure::from_bits(opaque(1));
    let leak = Share::from_bits(opaque(1));
    let k2 = Flow::from_bits(opaque(1)).get();
    let tube = Rohrer::new(Resistance::from_bits(opaque(1)), k2).ok()?;
    let proposal = Proposal::new(target, cmh2o(), cmh2o(), cmh2o(), leak).ok()?;
    Settings::builder()
        .threshold(threshold)
        .limiter(limiter)
        .proposal(proposal)
        .set_rate(Rate::from_bits(opaque(1)))
        .trend(Trend::new(opaque(1), opaque(3)).ok()?)
        .load(Load::new(leak, opaque(2)).ok()?.with_tube(tube))
        .peak(cmh2o())
        .support_peak(cmh2o())
        .fit(Fit::new(opaque(20), leak).ok()?.with_bend())
        .alarms(
            Alarms::default().with_apnoea(
                Apnoea::new(delay, opaque(false))
                    .ok()?
                    .with_short(ShortApnoea::new(delay, opaque(80), opaque(80)).ok()?),
            ),
        )
        .weight(Mass::from_grams(opaque(900)).ok()?)
        .build()
        .ok()
}

fn monitor() -> Option<()> {
    let mut monitor = Monitor::new(settings()?);
    let mut journal = Journal::<8>::new();
    let readiness = Readiness::default().with_weight(Mass::from_grams(opaque(900)).ok()?);
    let mut stretch = ReadinessState::default();
    loop {
        let (flow, pressure) = (Flow::from_bits(opaque(1)), Pressure::from_bits(opaque(1)));
        let sample = Sample { tick: Tick::from_us(opaque(1)), flow, pressure };
        let reports = [
            monitor.push(sample),
            monitor.push_at(Moment::from_us(opaque(1)), Reading { flow, pressure }),
            monitor.finish(),
        ];
        opaque((monitor.lost(), monitor.tick(Tick::from_us(opaque(1)))));
        opaque(monitor.tick_at(Moment::from_us(opaque(1))));
        monitor.acknowledge();
        let changed = monitor.settings_changed(Moment::from_us(opaque(1)), settings()?);
        journal.take(&changed);
        opaque((journal.pop(), journal.len(), journal.lost()));
        let signs = Signs { heart_rate: opaque(Some(80)), saturation: opaque(Some(80)) };
        monitor.signs(signs);
        let at = Moment::from_us(opaque(1));
        readiness.begin(&mut stretch, at, opaque(Before::default()), signs);
        readiness.signs(&mut stretch, at, opaque(signs));
        for closed in reports.iter().filter_map(|report| report.breath) {
            let _ = opaque((closed.breath.inspired, closed.breath.expired, closed.breath.rate()));
            opaque((closed.breath.ratio(), closed.breath.mean_pressure()));
            let _ = opaque((closed.leak.of_expired(), closed.view()));
            let (end, breath) = (closed.breath.end, closed.for_trend());
            readiness.breath(&mut stretch, end, &breath, closed.minute_volume);
        }
        readiness.end(&mut stretch, at);
        let _ = opaque((readiness.entry(&stretch), readiness.ratio(&stretch)));
        let _ = opaque((readiness.below(&stretch), readiness.own_per_kg(&stretch)));
        let _ = opaque((readiness.rapid_shallow(&stretch), stretch.lasted(), stretch.spans()));
        let _ = opaque((stretch.trial(), stretch.totals(), stretch.tally().breaths()));
        opaque(&reports);
        reports.iter().for_each(|report| journal.take(report));
        if let Some(tally) = monitor.trend().recent() {
            opaque((tally.rate(), tally.minute_volume(), tally.free_volume(), tally.leak()));
            opaque((tally.volume_share(opaque(BreathKind::Own)), tally.peak_flow()));
        }
        opaque((monitor.verdict(), monitor.trend().before().is_some()));
        opaque((monitor.threshold_advice(), monitor.leak_fit(), monitor.synchrony().index()));
        opaque((monitor.threshold_judgement(), monitor.verdict()));
        monitor.threshold_table().for_each(|step| {
            opaque(step);
        });
        if opaque(false) {
            return Some(());
        }
    }
}

fn breaths() -> Option<()> {
    let mut breaths = Breaths::new(settings()?.sample_stage());
    let (flow, pressure) = (Flow::from_bits(opaque(1)), Pressure::from_bits(opaque(1)));
    let heard = opaque(breaths.push(Sample { tick: Tick::from_us(opaque(1)), flow, pressure }));
    let _ = opaque(breaths.push_at(Moment::from_us(opaque(1)), Reading { flow, pressure }));
    let _ = opaque(breaths.lost());
    let _ = opaque(breaths.lung_volume(&heard.breath?));
    opaque((breaths.leak_path().window_share(), breaths.leak_fit()));
    opaque(breaths.finish());
    Some(())
}

fn sensors() -> Option<()> {
    let points = [(opaque(1), Flow::from_bits(opaque(1))), (opaque(2), Flow::from_bits(opaque(2)))];
    let _ = opaque(FlowTable::new(points).ok()?.flow(opaque(3)));
    let mut state = ZeroCaptureState::default();
    let zero = ZeroCapture::new(opaque(10), Flow::from_bits(opaque(1))).ok()?;
    let _ = opaque(zero.step(&mut state, Flow::from_bits(opaque(1))));
    let celsius = Celsius::from_hundredths(opaque(2_500)).ok()?;
    let here = GasState::saturated(Pressure::from_bits(opaque(1)), celsius).ok()?;
    let _ = opaque(here.factor_to(GasState::stpd()));
    let _ = opaque(Flow::from_bits(opaque(1)).over(Span::from_us(opaque(1))));
    let _ = opaque(Rate::from_bits(opaque(1)).period());
    let _ = opaque(Leak::of(Volume::from_bits(opaque(1)), Volume::from_bits(opaque(1))));
    Some(())
}

fn lung() -> Option<()> {
    let flow = || Flow::from_bits(opaque(1));
    let pressure = || Pressure::from_bits(opaque(1));
    let fit = Fit::new(opaque(20), Share::from_bits(opaque(1))).ok()?.with_bend();
    let mut sums = opaque(fit.begin());
    let end = || End { flow: flow(), lung: flow(), pressure: pressure(), ..End::default() };
    let (span, from, to) = (Span::from_us(opaque(1)), end(), end());
    let interval = Interval { span, from, to, ..Interval::default() };
    let mut totals = Totals::default();
    totals.add(&interval);
    totals.wait(span);
    sums.add(&interval, &totals);
    let _ = opaque(totals.since(&Totals::default()));
    sums.add_point(Volume::from_bits(opaque(1)), flow(), pressure());
    let _ = opaque((fit.solve(&sums), fit.solve_bend(&sums)));
    let _ = opaque(c20_of_curve(Share::from_bits(opaque(1))));
    let (time, tau) = (Span::from_us(opaque(1)), Span::from_us(opaque(1)));
    let _ = opaque((exhaled_share(time, tau), Emptying::of(time, tau)));
    let _ = opaque(flow_cycle_time(tau, Share::from_bits(opaque(1))));
    let cycle = Cycle::new(time, time, tau).ok()?;
    let compliance = Compliance::from_bits(opaque(1));
    let _ = opaque((cycle.auto_peep(pressure()), cycle.held_volume(pressure(), compliance)));
    let _ = opaque(cycle.tidal_volume(pressure(), compliance));
    let volume = || Volume::from_bits(opaque(1));
    let _ = opaque((c20_over_c(volume(), volume()), c20_level(pressure(), pressure())));
    let geometry = TubeGeometry::new(opaque(25), opaque(120)).ok()?;
    let _ =
        opaque((geometry.poiseuille(), geometry.reynolds(flow()), geometry.laminar_drop(flow())));
    let _ = opaque((geometry.blasius_drop(flow()), geometry.bent_drop(flow(), opaque(140))));
    let _ = opaque((geometry.least_drop(flow(), opaque(140)), geometry.narrowed_to(opaque(20))));
    let tube = Rohrer::from_points((flow(), pressure()), (flow(), pressure())).ok()?;
    let _ = opaque((tube.drop(flow()), tube.resistance(flow()), tube.per_minute()));
    let _ = opaque((tube.tracheal(pressure(), flow()), tube.share_of_support(pressure(), flow())));
    Some(())
}

fn levels() -> Option<()> {
    let age = Span::from_us(opaque(1));
    let floor = anatomical_dead_space(Mass::from_grams(opaque(900)).ok()?, age);
    let advice = LevelAdvice::new(floor, opaque(95)).ok()?;
    let mut history = VolumeHistory::default();
    let view = BreathView {
        at: Moment::from_us(opaque(1)),
        kind: opaque(BreathKind::Own),
        inspired: Some(Volume::from_bits(opaque(1))),
        expired: Some(Volume::from_bits(opaque(1))),
        most_out: Some(Volume::from_bits(opaque(1))),
        leak: None,
        rate: None,
        minute_volume: None,
        peak: None,
        drawn: opaque(true),
        trusted: opaque(true),
    };
    history.learn(&view);
    opaque(advice.advise(&history, opaque(BreathKind::Own)));
    let limits = Limits::new(Some(Volume::from_bits(opaque(1))), None).ok()?;
    let zero = Volume::from_bits(opaque(0));
    let alarm = LimitAlarm::new(limits, Span::from_us(opaque(1)), zero, opaque(false)).ok()?;
    opaque(history.rehearse(opaque(BreathKind::Own), &alarm));
    Some(())
}

fn weaning() -> Option<()> {
    let pressure = || Pressure::from_bits(opaque(1));
    let rate = || Rate::from_bits(opaque(1));
    let volume = || Volume::from_bits(opaque(1));
    let mass = Mass::from_grams(opaque(900)).ok()?;
    let per_kg = MinuteVolumePerKg::from_bits(opaque(1));
    let _ = opaque((compliance_by_weight(mass), per_kg.of_body(mass)));
    let _ = opaque(MinuteVolumePerKg::of_breaths(volume(), rate(), mass));
    let inflation = Inflation::new(pressure(), pressure()).ok()?;
    let grid = PressureGrid::from_milli(opaque(1_000)).ok()?;
    let of_peak = ShareOfPeak::of_peak(pressure(), &inflation).ok()?;
    let of_rise = ShareOfRise::of_support(pressure(), &inflation).ok()?;
    let support = opaque(of_peak.support(&inflation, grid));
    let shared = opaque(Supported::AboveSetRate).share_out(rate(), rate());
    opaque((shared.supported_share(), shared.mean_peak(&inflation, &support)));
    let table = TwoByTwo::new(opaque(1), opaque(1), opaque(1), opaque(1));
    opaque((table.total(), table.figures()));
    let _ =
        opaque((RapidShallow::per_litre(rate(), volume()), RapidShallow::per_ml(rate(), volume())));
    let _ = opaque(RapidShallow::per_ml_per_kg(rate(), volume(), mass));
    let span = || Span::from_us(opaque(1));
    let _ = opaque((
        occlusion_mean(pressure(), span()),
        tension_time(pressure(), pressure(), span(), span()),
    ));
    let run = OwnRun {
        lasted: span(),
        breaths: opaque(1),
        own: Some(volume()),
        mechanical: Some(volume()),
    };
    let _ = opaque(
        MinuteVolumeRatio::new(Share::from_bits(opaque(1)), span(), opaque(1)).ok()?.judge(&run),
    );
    opaque(EntryLimits::default().check(&opaque(Default::default())));
    let (below, mut state) = (TimeBelow::default(), TimeBelowState::default());
    below.step(&mut state, span(), opaque(Some(per_kg)));
    let _ = opaque(below.share(&opaque(state)));
    let trial = BreathingTrial::new(span(), span()).ok()?;
    let mut state = opaque(TrialState::default());
    let _ = opaque(trial.step(&mut state, Moment::from_us(opaque(1)), opaque(TrialEvent::Begins)));
    let present = Present { rate: rate(), inflation, support: Some(SupportShare::OfRise(of_rise)) };
    let stop = Stopping::new(rate(), pressure(), opaque(present.support)).ok()?;
    let sizes = StepSizes::new(rate(), pressure(), opaque(1_000)).ok()?;
    let measured = Measurements {
        own: Some(volume()),
        assured: Some(volume()),
        mass: Some(mass),
        needed: Some(per_kg),
    };
    let plan = Plan::new(present, opaque(Way::InTurn), stop, sizes, grid, measured).ok()?;
    opaque(plan.now());
    plan.steps().for_each(|step| {
        opaque(step);
    });
    Some(())
}

#[unsafe(no_mangle)]
extern "C" fn _start() -> ! {
    opaque(sensors());
    opaque(breaths());
    opaque(monitor());
    opaque(lung());
    opaque(levels());
    opaque(weaning());
    #[cfg(feature = "bad")]
    opaque(opaque(1_u32) / opaque(0_u32));
    loop {}
}
