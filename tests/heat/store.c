/* store.c - see store.h. */
#include "store.h"

void store_make(struct store *store)
{
    *store = (struct store){
        .settings = {.volume_ml = 315000,
                     .set_mc = 65000,
                     .hysteresis_mc = 6000,
                     .cold_mc = 16000,
                     .room_mc = 20000,
                     .loss_mwh = 2200000,
                     .usable_permille = 850,
                     .missing_micro = 10000000},
        .tariff = {.count = 1, .band = {{.price_micro = 300000}}, .feed_in_micro = 50000},
        .outlook = {.element = HEAT_SWITCHED, .power_w = 3600},
        .local = {20000, 0},
        .now = {{MS_PER_HOUR}, {20000 * (int64_t)MS_PER_DAY}, true},
    };
    store->outlook.tariff = &store->tariff;
    heat_begin(&store->settings, &store->memory);
}

static int16_t random_w(uint64_t *seed, int slot, int64_t sun_w)
{
    int64_t from_noon = slot > NOON_SLOT ? slot - NOON_SLOT : NOON_SLOT - slot;
    int64_t height = from_noon < 12 ? 144 - from_noon * from_noon : 0;
    int64_t clear = seeded_between(seed, 300, 1000);
    return (int16_t)(sun_w * height / 144 * clear / 1000 - seeded_between(seed, 150, 900));
}

void store_past(struct store *store, uint64_t seed, int days)
{
    for (int d = 0; d < days; d++) {
        int64_t sun_w = seeded_between(&seed, 500, 6000);
        for (int s = 0; s < HEAT_SLOTS; s++)
            store->memory.spare_w[d][s] = random_w(&seed, s, sun_w);
    }
    store->memory.days = (uint8_t)days;
    store->memory.newest = (uint8_t)(days - 1);
}

void store_past_flat(struct store *store, int days, int16_t night_w, int16_t day_w)
{
    for (int d = 0; d < days; d++)
        for (int s = 0; s < HEAT_SLOTS; s++)
            store->memory.spare_w[d][s] = s >= 18 && s < 32 ? day_w : night_w;
    store->memory.days = (uint8_t)days;
    store->memory.newest = (uint8_t)(days - 1);
}

double store_worth(const struct store *store, int slot, int sky, int level)
{
    const int32_t *after = store->memory.after[slot][sky][0];
    double kwh = (double)level_mj(&store->settings) / MJ_PER_J / J_PER_KWH;
    return ((double)after[level] - after[level + 1]) / kwh;
}

void store_tick_on(struct store *store, int32_t spare_w)
{
    heat_spare(&store->memory, spare_w, HEAT_TICK_MS);
    store_tick_unseen(store);
}

void store_tick_unseen(struct store *store)
{
    store->local.second += HEAT_TICK_MS / MS_PER_S;
    if (store->local.second >= HEAT_SLOTS * HEAT_SLOT_S) {
        store->local.second = 0;
        store->local.day++;
    }
    store_tick_after(store, HEAT_TICK_MS);
}

void store_tick_after(struct store *store, int64_t dt_ms)
{
    store->now.mono.ms += dt_ms;
    store->now.wall.ms += dt_ms;
    heat_tick(&store->settings, &store->memory, &store->outlook, &store->local, &store->now);
}
