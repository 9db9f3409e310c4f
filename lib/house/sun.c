/* Geometry enough for a believable day: right noon, right length, right shape,
 * within some percent in height. What clouds do to it is in sky.c. */
#include "house/sun.h"

#include <math.h>

#define RAD(deg) ((deg)*M_PI / 180)

static double declination_rad(double gamma)
{
    return 0.006918 - 0.399912 * cos(gamma) + 0.070257 * sin(gamma) - 0.006758 * cos(2 * gamma) +
           0.000907 * sin(2 * gamma) - 0.002697 * cos(3 * gamma) + 0.00148 * sin(3 * gamma);
}

static double equation_of_time_min(double gamma)
{
    return 229.18 * (0.000075 + 0.001868 * cos(gamma) - 0.032077 * sin(gamma) -
                     0.014615 * cos(2 * gamma) - 0.040849 * sin(2 * gamma));
}

struct sun sun_at(const struct roof *roof, int day, double utc_h)
{
    double gamma = 2 * M_PI * (day - 1) / 365;
    double solar_h = utc_h + roof->longitude_deg / 15 + equation_of_time_min(gamma) / 60;
    double hour_angle = RAD(15 * (solar_h - 12));
    double latitude = RAD(roof->latitude_deg), declination = declination_rad(gamma);
    double sine =
        sin(latitude) * sin(declination) + cos(latitude) * cos(declination) * cos(hour_angle);
    double east = -cos(declination) * sin(hour_angle);
    double north =
        cos(latitude) * sin(declination) - sin(latitude) * cos(declination) * cos(hour_angle);
    return (struct sun){asin(sine), atan2(east, north)};
}

double sun_on_panels_w_m2(const struct roof *roof, struct sun sun)
{
    if (sun.altitude_rad <= 0)
        return 0;
    double zenith_deg = 90 - sun.altitude_rad * 180 / M_PI;
    double air_mass = 1 / (sin(sun.altitude_rad) + 0.50572 * pow(96.07995 - zenith_deg, -1.6364));
    double direct = 1353 * pow(0.7, pow(air_mass, 0.678));
    double tilt = RAD(roof->tilt_deg);
    double incidence =
        sin(sun.altitude_rad) * cos(tilt) +
        cos(sun.altitude_rad) * sin(tilt) * cos(sun.azimuth_rad - RAD(roof->azimuth_deg));
    return direct * fmax(0, incidence) + 0.1 * direct;
}
