"""What making would refuse, found without making: in drills, forms, feels and courses."""
