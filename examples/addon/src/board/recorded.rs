//! In an emulator the sensor is a file on the host: four bytes a sample, as the sensor would send
//! them. Its path is the run's argument, and its end ends the run.

use core::convert::Infallible;
use cortex_m_semihosting::{debug, hprintln, syscall};
use embedded_hal::spi::{ErrorType, Operation, SpiDevice};

/// The file.
pub(crate) struct Recorded(usize);

impl Recorded {
    pub(crate) fn new() -> Self {
        const READ_BYTES: usize = 1;
        let mut line = [0_u8; 256];
        // SAFETY: SYS_GET_CMDLINE writes at most the length given.
        unsafe { syscall!(GET_CMDLINE, line.as_mut_ptr(), line.len()) };
        let end = line.iter().position(|&byte| byte == 0).unwrap_or(0);
        let start = line.iter().position(|&byte| byte == b' ').map_or(end, |space| space + 1);
        let path = &line[start.min(end)..end];
        // SAFETY: SYS_OPEN reads the path, which ends in a zero that is not counted.
        let file = unsafe { syscall!(OPEN, path.as_ptr(), READ_BYTES, path.len()) };
        if (file as isize) < 1 {
            end_badly();
        }
        Self(file)
    }
}

fn end_badly() -> ! {
    end(false, "no such recording")
}

/// Ends the run.
pub(crate) fn end(well: bool, why: &str) -> ! {
    hprintln!("{}", why);
    debug::exit(if well { debug::EXIT_SUCCESS } else { debug::EXIT_FAILURE });
    loop {}
}

impl ErrorType for Recorded {
    type Error = Infallible;
}

impl SpiDevice for Recorded {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), Infallible> {
        for operation in operations {
            if let Operation::Read(to) = operation {
                // SAFETY: SYS_READ writes at most the length given, and returns what is lacking.
                let short = unsafe { syscall!(READ, self.0, to.as_mut_ptr(), to.len()) };
                if short > 0 {
                    end(true, "the recording is over");
                }
            }
        }
        Ok(())
    }
}
