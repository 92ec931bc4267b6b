//! Links only if no panic can be reached from any public step.
//!
//! The panic handler calls a function that nobody defines. Where the linker drops the handler, no
//! path leads to a panic; where it cannot, it names the missing function and stops. Inputs are
//! opaque, so nothing is worked out beforehand.
#![no_std]
#![no_main]

use core::hint::black_box as opaque;
use tidevane::alarm::{
    BreathKind, BreathView, LevelAdvice, LimitAlarm, Limits, VolumeHistory, anatomical_dead_space,
};
use tidevane::leak::Leak;
use tidevane::mechanics::{
    Cycle, Emptying, Fit, FitSums, Rohrer, TubeGeometry, c20_level, c20_over_c, exhaled_share,
    flow_cycle_time,
};
use tidevane::monitor::{Monitor, Settings};
use tidevane::quantity::{
    Compliance, Flow, Mass, Moment, Pressure, Rate, Share, Span, Tick, Volume,
};
use tidevane::signal::gas::{Celsius, GasState};
use tidevane::signal::{FlowTable, Reading, Sample, ZeroCapture, ZeroCaptureState};
use tidevane::trigger::Threshold;
use tidevane::volume::{Limiter, Proposal};

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
    let proposal = Proposal::new(target, cmh2o(), cmh2o(), cmh2o(), leak).ok()?;
    Settings::builder()
        .threshold(threshold)
        .limiter(limiter)
        .proposal(proposal)
        .set_rate(Rate::from_bits(opaque(1)))
        .weight(Mass::from_grams(opaque(900)).ok()?)
        .build()
        .ok()
}

fn monitor() -> Option<()> {
    let mut monitor = Monitor::new(settings()?);
    loop {
        let (flow, pressure) = (Flow::from_bits(opaque(1)), Pressure::from_bits(opaque(1)));
        let sample = Sample { tick: Tick::from_us(opaque(1)), flow, pressure };
        let reports = [
            monitor.push(sample),
            monitor.push_at(Moment::from_us(opaque(1)), Reading { flow, pressure }),
            monitor.finish(),
        ];
        monitor.lost();
        monitor.settings_changed(settings()?);
        for closed in reports.iter().filter_map(|report| report.breath) {
            let _ =
                opaque((closed.breath.inspired(), closed.breath.expired(), closed.breath.rate()));
            opaque((closed.breath.ratio(), closed.breath.mean_pressure()));
            let _ = opaque(closed.leak.of_expired());
        }
        opaque(&reports);
        opaque((monitor.threshold_advice(), monitor.leak_fit(), monitor.synchrony().index()));
        monitor.threshold_table().for_each(|step| {
            opaque(step);
        });
        if opaque(false) {
            return Some(());
        }
    }
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
    let mut sums = FitSums::default();
    sums.add(Span::from_us(opaque(1)), flow(), pressure());
    sums.add_point(Volume::from_bits(opaque(1)), flow(), pressure());
    let fit = Fit::new(opaque(20), Share::from_bits(opaque(1))).ok()?;
    let _ = opaque((fit.solve(&sums), sums.volume()));
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
        leak: None,
        rate: None,
        minute_volume: None,
        peak: None,
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

#[unsafe(no_mangle)]
extern "C" fn _start() -> ! {
    opaque(sensors());
    opaque(monitor());
    opaque(lung());
    opaque(levels());
    #[cfg(feature = "bad")]
    opaque(opaque(1_u32) / opaque(0_u32));
    loop {}
}
