"""What was measured on site, read from files people saved, and what it says; knows no site file and no physics."""
