/* judge.c - values that no tank has, and values that this one cannot have.
 *
 * How fast a probe may change: water drawn at 20 L/min rises 1.7 mm a second in a tank half a
 * metre wide; where hot meets cold, 45 K lie within some 5 cm; so 1.5 K a second pass the probe
 * (reckoned, no source). A leap is believed once so much time has gone by since the last good
 * value: a sensor that was really put elsewhere is read again within half a minute.
 *
 * Stuck: a hot tank loses a kWh and more a day, 3 K of 300 L; a sensor that says the same to
 * the last digit for a day is not in it, or is a message that somebody repeats. A tank at the
 * room's temperature may really stand still, so a cold one is not judged. */
#include "sensor/judge.h"

#include <stdlib.h>

enum {
    LEAST_MC = -10000,
    MOST_MC = 110000,
    LEAP_MC = 10000, /* at once: noise, a probe that slips in its pocket */
    LEAP_MC_PER_S = 1500,
    POWER_ON_NEAR_MC = 3000, /* of a tank that is really so hot */
    STUCK_ABOVE_MC = 35000,
    STUCK_MS = 24 * MS_PER_HOUR,
};

static bool is_power_on(const struct sensor_memory *memory, int32_t power_on_mc, int32_t mc)
{
    bool near = memory->read && abs(memory->mc - power_on_mc) <= POWER_ON_NEAR_MC;
    return power_on_mc != 0 && mc == power_on_mc && !near;
}

static bool leaps(const struct sensor_memory *memory, int32_t mc, struct mono now)
{
    int64_t most_mc = LEAP_MC + mono_since_ms(now, memory->taken) * LEAP_MC_PER_S / MS_PER_S;
    return memory->read && llabs((int64_t)mc - memory->mc) > most_mc;
}

static bool is_stuck(const struct sensor_memory *memory, struct mono now)
{
    return memory->mc > STUCK_ABOVE_MC && mono_since_ms(now, memory->same_since) >= STUCK_MS;
}

enum sensor_fault sensor_judge(struct sensor_memory *memory, int32_t power_on_mc, int32_t mc,
                               struct mono now)
{
    if (mc < LEAST_MC || mc > MOST_MC)
        return SENSOR_OUT_OF_RANGE;
    if (is_power_on(memory, power_on_mc, mc))
        return SENSOR_POWER_ON;
    if (leaps(memory, mc, now))
        return SENSOR_LEAPS;
    if (!memory->read || memory->mc != mc)
        memory->same_since = now;
    memory->read = true;
    memory->mc = mc;
    memory->taken = now;
    return is_stuck(memory, now) ? SENSOR_STUCK : SENSOR_WELL;
}

const char *sensor_fault_text(enum sensor_fault fault)
{
    static const char *const texts[] = {
        [SENSOR_WELL] = "",
        [SENSOR_POWER_ON] = "says 85 °C, its value before it has measured: possible loose wire or "
                            "weak supply",
        [SENSOR_OUT_OF_RANGE] = "says what no tank has: possible cut or shorted wire",
        [SENSOR_LEAPS] = "jumps faster than water in a tank can: possible loose wire",
        [SENSOR_STUCK] = "has said the same for a day, of a hot tank: possibly stuck, or not in "
                         "the tank",
    };
    return texts[fault];
}
