/* describe_gateway.c - in plain sentences: to whom the meter is given, and as what. */
#include "describe.h"

static void describe_doors(FILE *to, const struct gateway_settings *gateway)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    if (gateway->tcp_port > 0)
        text_add(&text, "Modbus TCP on %s port %d, %s", gateway->listen, (int)gateway->tcp_port,
                 gateway->allowed_count ? "to the peers that are listed"
                                        : "to whoever is on this machine");
    if (gateway->port[0])
        text_add(&text, "%sModbus RTU on %s", gateway->tcp_port > 0 ? "; " : "", gateway->port);
    sentence(to, "Given to other masters by %s.", buffer);
}

static void describe_served(FILE *to, const struct gateway_served *served)
{
    static const char *const as[] = {
        [GATEWAY_REGISTERS] = "its own registers",
        [GATEWAY_SUNSPEC] = "a SunSpec meter",
        [GATEWAY_SUNSPEC_FLOAT] = "a SunSpec meter in floats",
    };
    sentence(to, "Meter %s is unit %u there, as %s; %s.", served->meter, served->unit,
             as[served->view],
             served->range_count ? "the ranges that are listed can be written"
                                 : "nothing can be written");
}

void describe_gateway(FILE *to, const struct gateway_settings *gateway)
{
    if (!gateway->enabled)
        return;
    fprintf(to, "\nThe meter for others\n");
    describe_doors(to, gateway);
    for (uint8_t k = 0; k < gateway->served_count; k++)
        describe_served(to, &gateway->served[k]);
    sentence(to, "An inverter that limits export by this meter must not be among them: it keeps "
                 "its own wire to the meter.");
}
