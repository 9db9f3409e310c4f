/* A fault is one field of the load or its heater; beginning sets it, ending puts back
 * what a sound one has. The element's shares are by leg, and which leg hangs on which
 * phase follows from the load's own phases. */
#include "house/fault.h"

/* Sets what of each leg is gone where its phase is meant. */
static void set_gone(struct house_load *load, uint8_t phases, double gone)
{
    uint8_t own = load->settings->phases;
    if (phases == 0)
        phases = own;
    for (int p = 0, leg = 0; p < PHASES_MAX; p++) {
        if (!(own & (1 << p)))
            continue;
        if (phases & (1 << p))
            load->heater.faults.gone[leg] = gone;
        leg++;
    }
}

static void set(struct house_load *load, const struct house_fault *fault, bool present)
{
    struct heater_faults *heater = &load->heater.faults;
    double amount = present ? fault->amount : 0;
    switch (fault->kind) {
    case FAULT_WELDED:
        load->faults.contactor = present ? CONTACTOR_WELDED : CONTACTOR_WORKS;
        break;
    case FAULT_COIL_OPEN:
        load->faults.contactor = present ? CONTACTOR_STAYS_OPEN : CONTACTOR_WORKS;
        break;
    case FAULT_BYPASSED:
        load->faults.bypassed = present;
        break;
    case FAULT_BREAKER_OFF:
        load->faults.breaker_off = present;
        break;
    case FAULT_SUPPLY_OFF:
        load->faults.supply_off = present;
        break;
    case FAULT_ELEMENT_BROKEN:
        load->faults.dead = present;
        break;
    case FAULT_ELEMENT_LEFT:
        set_gone(load, fault->phases, present ? 1 - fault->amount : 0);
        break;
    case FAULT_ELEMENT_RESISTANCE:
        heater->more_ohm = present ? fault->amount - 1 : 0;
        break;
    case FAULT_ELEMENT_DRIFT:
        heater->drift_a_year = amount;
        break;
    case FAULT_THERMOSTAT_CLOSED:
        heater->thermostat = present ? THERMOSTAT_STUCK_CLOSED : THERMOSTAT_WORKS;
        break;
    case FAULT_THERMOSTAT_OPEN:
        heater->thermostat = present ? THERMOSTAT_STUCK_OPEN : THERMOSTAT_WORKS;
        break;
    case FAULT_THERMOSTAT_OPENS_FOR_GOOD:
        heater->thermostat = present ? THERMOSTAT_OPENS_FOR_GOOD : THERMOSTAT_WORKS;
        break;
    case FAULT_CUT_OUT:
        load->heater.cut_out = present;
        break;
    case FAULT_RELIEF_LEAK:
        heater->relief_l_h = amount;
        break;
    case FAULT_HOT_LEAK:
        heater->leak_l_h = amount;
        break;
    case HOUSE_FAULTS:
        break;
    }
}

void house_fault_begin(struct house_load *load, const struct house_fault *fault)
{
    set(load, fault, true);
}

void house_fault_end(struct house_load *load, const struct house_fault *fault)
{
    set(load, fault, false);
}

void house_fault_repair(struct house_load *load)
{
    load->faults = (struct house_load_faults){0};
    load->heater.faults = (struct heater_faults){0};
    load->heater.cut_out = false;
}
