"""What leaves the house: labels and QR, day sheet, CSV, notices."""
