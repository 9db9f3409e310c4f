/* grid.c - how much was imported and exported.
 *
 * By the meter's own registers where it has them: their rise is booked, also over
 * a stop of the daemon, and a fall (a reset, another meter) books nothing. Where it
 * has none the power is integrated, and time without a reading is a gap that is
 * counted as one, never filled. */
#include "grid.h"

enum { MJ_PER_MWH = 3600 };

static bool has_registers(const struct meter_sample *sample)
{
    const uint32_t both = (1u << METER_IMPORT_ENERGY) | (1u << METER_EXPORT_ENERGY);
    return (sample->has & both) == both;
}

static void book_rise(int64_t *register_mwh, int64_t now_mwh, int64_t *total_mj)
{
    if (*register_mwh >= 0 && now_mwh > *register_mwh)
        *total_mj += (now_mwh - *register_mwh) * MJ_PER_MWH;
    *register_mwh = now_mwh;
}

void grid_registers(struct site *site, const struct meter_sample *sample)
{
    struct grid_energy *grid = &site->grid;
    if (!has_registers(sample))
        return;
    bool inverted = false;
    for (uint8_t k = 0; k < site->settings->meter_count; k++)
        if (site->settings->meters[k].role == ROLE_GRID)
            inverted = site->settings->meters[k].inverted;
    enum meter_quantity in = inverted ? METER_EXPORT_ENERGY : METER_IMPORT_ENERGY;
    enum meter_quantity out = inverted ? METER_IMPORT_ENERGY : METER_EXPORT_ENERGY;
    grid->integrated = false;
    book_rise(&grid->import_register_mwh, sample->value[in], &grid->import_mj);
    book_rise(&grid->export_register_mwh, sample->value[out], &grid->export_mj);
}

void grid_book(struct site *site, int64_t dt_ms)
{
    struct grid_energy *grid = &site->grid;
    const struct reading *reading = &site->reading;
    if (!grid->integrated || dt_ms <= 0)
        return;
    if (reading->grid.quality != READING_FRESH || !(reading->has & HAS_GRID_POWER)) {
        grid->gap_ms += dt_ms;
        return;
    }
    int64_t energy_mj = (int64_t)reading->grid_power_w * dt_ms;
    if (energy_mj > 0)
        grid->import_mj += energy_mj;
    else
        grid->export_mj -= energy_mj;
}
