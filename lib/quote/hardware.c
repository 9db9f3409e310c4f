/* hardware.c - a price is a list of pieces, each a setting of the quote. */
#include "quote/hardware.h"

bool hardware_same(const struct hardware *a, const struct hardware *b)
{
    return a->drive == b->drive && a->stages == b->stages && a->sensor == b->sensor &&
           a->element_w == b->element_w && a->set_mc == b->set_mc;
}

struct list {
    struct price_item *items;
    int count;
};

static void put(struct list *list, const char *what, int count, uint32_t each)
{
    if (count > 0 && each > 0)
        list->items[list->count++] = (struct price_item){what, count, (double)count * each};
}

static void put_drive(struct list *list, const struct quote_settings *quote,
                      const struct hardware *wanted)
{
    switch ((enum hardware_drive)wanted->drive) {
    case DRIVE_NONE:
        return;
    case DRIVE_TIMER:
        put(list, "timer", 1, quote->timer_cost);
        return;
    case DRIVE_OFF_PEAK:
        put(list, "off-peak supply", 1, quote->controlled_cost);
        return;
    case DRIVE_DIVERTER:
        put(list, "diverter", 1, quote->diverter_cost);
        return;
    case DRIVE_CONTACTOR:
    case DRIVE_STAGES:
    case DRIVE_REGULATOR:
        break;
    }
    put(list, "board and adapter", 1, quote->board_cost);
    put(list, "meter", 1, quote->meter_cost);
    if (wanted->drive == DRIVE_REGULATOR) {
        put(list, "regulator", 1, quote->regulator_cost);
    } else {
        put(list, "relay", 1, quote->relay_cost);
        put(list, "contactor", wanted->drive == DRIVE_STAGES ? wanted->stages : 1,
            quote->contactor_cost);
    }
    put(list, "labour", 1, quote->labour_cost);
}

/* A thermostat that is raised makes the water at the taps hotter than it is now. */
int hardware_items(const struct quote_settings *quote, const struct hardware *present,
                   const struct hardware *wanted, struct price_item items[static PRICE_ITEMS_MAX])
{
    struct list list = {.items = items};
    put_drive(&list, quote, wanted);
    put(&list, "tank sensor", wanted->sensor, quote->sensor_cost);
    put(&list, "element",
        wanted->element_w != present->element_w || wanted->stages != present->stages,
        quote->element_cost);
    put(&list, "tempering valve", wanted->set_mc > present->set_mc, quote->valve_cost);
    return list.count;
}

double hardware_price(const struct quote_settings *quote, const struct hardware *present,
                      const struct hardware *wanted)
{
    struct price_item items[PRICE_ITEMS_MAX];
    int count = hardware_items(quote, present, wanted, items);
    double sum = 0;
    for (int k = 0; k < count; k++)
        sum += items[k].cost;
    return sum;
}
