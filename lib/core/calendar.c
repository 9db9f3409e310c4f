/* calendar.c - days since 1970 and their dates.
 *
 * The idea of the formulas named in the header: a year that begins on 1 March
 * has its leap day at the end, so the months' lengths follow one linear rule, and
 * 400 such years (an era) always have 146097 days. */
#include "calendar.h"

enum { DAYS_OF_ERA = 146097, DAYS_TO_1970 = 719468 /* from 0000-03-01 */ };

static int32_t floor_div(int32_t a, int32_t b)
{
    return a / b - (a % b < 0);
}

int32_t days_of_date(struct date date)
{
    int32_t year = date.year - (date.month <= 2);
    int32_t era = floor_div(year, 400);
    int32_t year_of_era = year - era * 400;
    int32_t month = (date.month + 9) % 12; /* March is 0 */
    int32_t day_of_year = (153 * month + 2) / 5 + date.day - 1;
    int32_t day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    return era * DAYS_OF_ERA + day_of_era - DAYS_TO_1970;
}

struct date date_of_days(int32_t days)
{
    int32_t shifted = days + DAYS_TO_1970;
    int32_t era = floor_div(shifted, DAYS_OF_ERA);
    int32_t day_of_era = shifted - era * DAYS_OF_ERA;
    int32_t year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
    int32_t day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int32_t month = (5 * day_of_year + 2) / 153; /* March is 0 */
    int32_t year = year_of_era + era * 400 + (month >= 10);
    return (struct date){.year = (int16_t)year,
                         .month = (uint8_t)(month < 10 ? month + 3 : month - 9),
                         .day = (uint8_t)(day_of_year - (153 * month + 2) / 5 + 1)};
}

/* 1970-01-01 was a Thursday. */
enum weekday weekday_of_days(int32_t days)
{
    int32_t from_monday = (days % 7 + THURSDAY) % 7;
    return (enum weekday)(from_monday < 0 ? from_monday + 7 : from_monday);
}

const char *month_name(int month)
{
    static const char *const names[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                        "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    return names[(month + 11) % 12];
}
