/* text.c - networks and ranges, as people write them. */
#include <arpa/inet.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/text.h"
#include "gateway/gateway.h"

enum { V4_OFFSET_BITS = 96 };

#define SHORT(word) text_shorten((char[TEXT_SHORT_SIZE]){0}, (word))

/* Digits only: strtol would take signs and blanks. */
static bool number_parse(const char *text, size_t length, unsigned most, unsigned *number)
{
    *number = 0;
    if (length == 0 || length > 5)
        return false;
    for (size_t i = 0; i < length; i++) {
        if (text[i] < '0' || text[i] > '9')
            return false;
        *number = *number * 10 + (unsigned)(text[i] - '0');
    }
    return *number <= most;
}

static bool address_parse(const char *text, struct gateway_network *network, unsigned *width)
{
    struct in_addr v4;
    if (inet_pton(AF_INET, text, &v4) == 1) {
        memset(network->address, 0, 10);
        memset(network->address + 10, 0xff, 2);
        memcpy(network->address + 12, &v4, 4);
        *width = 32;
        return true;
    }
    *width = 128;
    return inet_pton(AF_INET6, text, network->address) == 1;
}

static bool has_bits_beyond(const struct gateway_network *network)
{
    for (unsigned bit = network->bits; bit < 128; bit++)
        if (network->address[bit / 8] & 0x80 >> bit % 8)
            return true;
    return false;
}

bool gateway_network_parse(const char *text, struct gateway_network *network,
                           struct trouble *trouble)
{
    char address[48];
    unsigned width, bits;
    const char *slash = strchr(text, '/');
    size_t length = slash ? (size_t)(slash - text) : strlen(text);
    if (length >= sizeof(address))
        return trouble_set(trouble, "", "\"%s\" is no address", SHORT(text));
    memcpy(address, text, length);
    address[length] = '\0';
    if (!address_parse(address, network, &width))
        return trouble_set(trouble, "",
                           "\"%s\" is no address; write one such as 192.0.2.7, or a network such "
                           "as 192.0.2.0/24",
                           SHORT(text));
    bits = width;
    if (slash && !number_parse(slash + 1, strlen(slash + 1), width, &bits))
        return trouble_set(trouble, "", "\"%s\": behind the slash stands a number up to %u",
                           SHORT(text), width);
    network->bits = (uint8_t)(bits + (width == 32 ? V4_OFFSET_BITS : 0));
    return !has_bits_beyond(network) ||
           trouble_set(trouble, "", "\"%s\" is an address within a network, not the network",
                       SHORT(text));
}

bool gateway_is_loopback(const struct gateway_network *network)
{
    static const uint8_t v4[] = {0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0xff, 0xff, 127};
    static const uint8_t v6[16] = {[15] = 1};
    return (network->bits >= 104 && memcmp(network->address, v4, sizeof(v4)) == 0) ||
           (network->bits == 128 && memcmp(network->address, v6, sizeof(v6)) == 0);
}

bool gateway_range_parse(const char *text, struct gateway_range *range, struct trouble *trouble)
{
    static const char holding[] = "holding ", coil[] = "coil ";
    unsigned first, last;
    range->coils = strncmp(text, coil, strlen(coil)) == 0;
    const char *number = text + (range->coils ? strlen(coil) : strlen(holding));
    bool kind_known = range->coils || strncmp(text, holding, strlen(holding)) == 0;
    const char *dash = kind_known ? strchr(number, '-') : NULL;
    if (!kind_known ||
        !number_parse(number, dash ? (size_t)(dash - number) : strlen(number), 65535, &first) ||
        (dash && !number_parse(dash + 1, strlen(dash + 1), 65535, &last)))
        return trouble_set(trouble, "",
                           "\"%s\" is no range; write one such as holding 100-110, or coil 0",
                           SHORT(text));
    last = dash ? last : first;
    if (last < first)
        return trouble_set(trouble, "", "\"%s\" ends before it begins", SHORT(text));
    range->first = (uint16_t)first;
    range->last = (uint16_t)last;
    return true;
}
