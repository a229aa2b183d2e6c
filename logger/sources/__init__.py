"""Where samples come from while they are made: serial ports, Bluetooth LE, recordings played again, virtual clips."""
