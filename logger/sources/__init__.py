"""Where samples come from while they are being made: serial ports, Bluetooth LE, recordings played again, virtual clips."""
