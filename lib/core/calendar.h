/* calendar.h - the proleptic Gregorian calendar, without zones.
 *
 * Formulas: H. Hinnant, "chrono-Compatible Low-Level Date Algorithms"
 * (days_from_civil, civil_from_days). */
#ifndef SLUICE_CORE_CALENDAR_H
#define SLUICE_CORE_CALENDAR_H

#include <stdint.h>

enum weekday { MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY, SATURDAY, SUNDAY };
enum { WEEKDAYS_ALL = 0x7f }; /* bit 0 is Monday */

struct date {
    int16_t year;
    uint8_t month; /* 1..12 */
    uint8_t day;   /* 1..31 */
};

/* Days since 1970-01-01, negative before. */
int32_t days_of_date(struct date date);
struct date date_of_days(int32_t days);
enum weekday weekday_of_days(int32_t days);

/* "Jan": `month` is 1..12. */
const char *month_name(int month);

#endif
