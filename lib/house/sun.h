/* sun.h - where the sun stands and what a clear sky lets through.
 *
 * Declination and equation of time: J. W. Spencer, "Fourier series
 * representation of the position of the sun", Search 2 (5), 1971. Air mass: F.
 * Kasten, A. T. Young, Applied Optics 28, 1989. Direct light on a clear day
 * 1353 * 0.7^(AM^0.678) W/m2 and a tenth of it as diffuse light: A. B. Meinel,
 * M. P. Meinel, "Applied Solar Energy", 1976. (All three from memory.) */
#ifndef SLUICE_HOUSE_SUN_H
#define SLUICE_HOUSE_SUN_H

struct sun {
    double altitude_rad;
    double azimuth_rad; /* from north, eastward */
};

struct roof {
    double latitude_deg, longitude_deg; /* north and east positive */
    double tilt_deg, azimuth_deg;       /* of the panels' face, from north eastward */
};

/* day: 1..366 of the year; utc_h: hours since midnight UTC, may be out of 0..24. */
struct sun sun_at(const struct roof *roof, int day, double utc_h);

/* Clear-sky irradiance on the panels, W/m2. */
double sun_on_panels_w_m2(const struct roof *roof, struct sun sun);

#endif
