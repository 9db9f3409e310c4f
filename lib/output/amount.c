/* amount.c - the settings of set-points, for all kinds that carry one. */
#include "output/backend.h"

static const struct setting_row rows[] = {
    {.key = "count_power",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_POWER_W,
     SETTING_AT(struct output_settings, scale_w),
     .least = 1,
     .greatest = 100000,
     .initial = "",
     .example = "1 W",
     .text = "One count of a set-point in watts; of a topic, its step."},
    {.key = "count_current",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_CURRENT_MA,
     SETTING_AT(struct output_settings, scale_ma),
     .least = 1,
     .greatest = 100000,
     .initial = "",
     .example = "100 mA",
     .text = "One count of a set-point in amps; of a topic, its step."},
};
const struct setting_rows amount_rows = SETTING_ROWS(rows);
