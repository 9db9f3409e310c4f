/* test_espi.c - Green Button files as NAESB REQ.21 (ESPI) has them, written by hand: an Atom
 * feed of a connection point, its local time, meter readings, their types and blocks of
 * intervals. All of it from memory. */
#include "days/espi.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "../core/suite.h"
#include "customer_file.h"
#include "table.h"

/* From Python: datetime(2025,3,1,8,tzinfo=timezone.utc).timestamp(): midnight in Los Angeles */
enum { FIRST_S = 1740816000 };

#define FEED                                                                                       \
    "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"                                                 \
    "<feed xmlns=\"http://www.w3.org/2005/Atom\">\n"
#define FEED_END "</feed>\n"
#define POINT(id, title, kind)                                                                     \
    "<entry><link rel=\"self\" href=\"/espi/1_1/resource/RetailCustomer/9/UsagePoint/" id "\"/>"   \
    "<title>" title "</title><content><UsagePoint xmlns=\"http://naesb.org/espi\">"                \
    "<ServiceCategory><kind>" kind "</kind></ServiceCategory></UsagePoint></content></entry>\n"
#define READING(point, id, type, title)                                                            \
    "<entry><link rel=\"self\" href=\"/espi/UsagePoint/" point "/MeterReading/" id "\"/>"          \
    "<link rel=\"up\" href=\"/espi/UsagePoint/" point "/MeterReading\"/>"                          \
    "<link rel=\"related\" href=\"/espi/ReadingType/" type "\"/>"                                  \
    "<title>" title "</title><content><MeterReading/></content></entry>\n"
#define TYPE(id, flow, power, unit)                                                                \
    "<entry><link rel=\"self\" href=\"/espi/ReadingType/" id "\"/><title/><content><ReadingType>"  \
    "<accumulationBehaviour>4</accumulationBehaviour><commodity>1</commodity>"                     \
    "<flowDirection>" flow "</flowDirection><intervalLength>3600</intervalLength>"                 \
    "<powerOfTenMultiplier>" power "</powerOfTenMultiplier><uom>" unit "</uom>"                    \
    "</ReadingType></content></entry>\n"
#define ZONE                                                                                       \
    "<entry><link rel=\"self\" href=\"/espi/LocalTimeParameters/01\"/><content>"                   \
    "<LocalTimeParameters><dstEndRule>B40E2000</dstEndRule><dstOffset>3600</dstOffset>"            \
    "<dstStartRule>360E2000</dstStartRule><tzOffset>-28800</tzOffset></LocalTimeParameters>"       \
    "</content></entry>\n"

static struct customer_file file;

/* A block of `count` intervals, each 1 more than the one before; its lines end with them. */
static const char *block(const char *point, const char *reading, int count, int step_s, int value)
{
    static char *room[4];
    static int next;
    char **text = &room[next++ % 4];
    size_t size;
    free(*text);
    FILE *to = open_memstream(text, &size);
    fprintf(to,
            "<entry><link rel=\"up\" href=\"/espi/UsagePoint/%s/MeterReading/%s/IntervalBlock\"/>"
            "<content><IntervalBlock><interval><duration>%d</duration><start>%d</start>"
            "</interval>\n",
            point, reading, count * step_s, FIRST_S);
    for (int k = 0; k < count; k++)
        fprintf(to,
                "<IntervalReading><timePeriod><duration>%d</duration><start>%d</start>"
                "</timePeriod><value>%d</value></IntervalReading>\n",
                step_s, FIRST_S + k * step_s, value + k);
    fputs("</IntervalBlock></content></entry>\n", to);
    fclose(to);
    return *text;
}

static void read_text(const char *format, ...) __attribute__((format(printf, 1, 2)));
static void read_text(const char *format, ...)
{
    char *text = NULL;
    va_list arguments;
    if (!file.options.zone) {
        customer_begin(&file);
        file.options.zone = &losangeles;
    }
    va_start(arguments, format);
    ck_assert_int_ge(vasprintf(&text, format, arguments), 0);
    va_end(arguments);
    customer_read(&file, days_espi_read, text, strlen(text));
    free(text);
}

static void expect_read(void)
{
    ck_assert_msg(file.read && file.report.stop_count == 0, "%s", customer_told(&file));
}

static void expect_refused(size_t line, const char *wanted)
{
    ck_assert_msg(!file.read || file.report.stop_count > 0, "it was read");
    ck_assert_msg(customer_stops(&file, line, wanted), "wanted line %zu: %s; got %s", line, wanted,
                  customer_told(&file));
    customer_free(&file);
    memset(&file, 0, sizeof(file));
}

START_TEST(test_readings_are_what_their_types_say)
{
    read_text(FEED POINT("01", "Home", "0") ZONE READING("01", "1", "a", "Delivered")
                  READING("01", "2", "b", "Received") TYPE("a", "1", "0", "72")
                      TYPE("b", "19", "-3", "72") "%s%s" FEED_END,
              block("01", "1", 48, 1800, 200), block("01", "2", 48, 1800, 500000));
    expect_read();
    ck_assert_int_eq(file.report.count, 0);
    ck_assert_int_eq(file.channels.count, 2);
    const struct days_channel *import = customer_channel(&file, "Delivered");
    const struct days_channel *export = customer_channel(&file, "Received");
    ck_assert_int_eq(import->role, DAYS_IMPORT);
    ck_assert_int_eq(export->role, DAYS_EXPORT);
    ck_assert_int_eq(import->unit, DAYS_WH);
    ck_assert_int_eq(import->step_s, 1800);
    ck_assert_int_eq(import->first.ms / MS_PER_S, FIRST_S);
    ck_assert_uint_eq(import->count, 48);
    ck_assert_float_eq(import->value[47], 247);
    ck_assert_float_eq_tol(export->value[1], 500.001f, 1e-4f);
    ck_assert_uint_eq(days_channel_place(import, 0).line, 10);
    ck_assert_str_eq(file.channels.meter, "Home");
    customer_free(&file);
}
END_TEST

/* Types last, blocks before the readings, prefixes of any name. */
START_TEST(test_entries_may_come_in_any_order)
{
    read_text(FEED "%s" READING("01", "1", "a", "") TYPE("a", "1", "3", "72") FEED_END,
              block("01", "1", 2, 3600, 2));
    expect_read();
    const struct days_channel *channel = customer_channel(&file, "MeterReading 1");
    ck_assert_ptr_nonnull(channel);
    ck_assert_float_eq(channel->value[0], 2000);
    customer_free(&file);
    memset(&file, 0, sizeof(file));
    read_text("<x:ReadingType><x:flowDirection>19</x:flowDirection><x:uom>72</x:uom>"
              "</x:ReadingType>");
    expect_refused(0, "no IntervalBlock in it");
    read_text("<a:all><x:ReadingType><x:flowDirection>19</x:flowDirection><x:uom>72</x:uom>"
              "</x:ReadingType><x:IntervalBlock><x:IntervalReading><x:timePeriod><x:duration>900"
              "</x:duration><x:start>%d</x:start></x:timePeriod><x:value>7</x:value>"
              "</x:IntervalReading></x:IntervalBlock></a:all>",
              FIRST_S);
    expect_read();
    ck_assert_int_eq(file.channels.channel[0].role, DAYS_EXPORT);
    ck_assert_int_eq(file.channels.channel[0].step_s, 900);
    ck_assert_float_eq(file.channels.channel[0].value[0], 7);
    customer_free(&file);
}
END_TEST

START_TEST(test_directions_that_are_not_said_are_unknown)
{
    read_text(FEED READING("01", "1", "a", "A") READING("01", "2", "b", "B")
                  TYPE("a", "0", "0", "72") TYPE("b", "4", "0", "72") "%s%s" FEED_END,
              block("01", "1", 2, 3600, 1), block("01", "2", 2, 3600, 1));
    expect_read();
    ck_assert_int_eq(customer_channel(&file, "A")->role, DAYS_UNKNOWN);
    ck_assert_int_eq(customer_channel(&file, "B")->role, DAYS_GRID);
    customer_free(&file);
}
END_TEST

START_TEST(test_gas_counters_and_sums_of_days_are_left_out)
{
    read_text(FEED POINT("01", "", "0") POINT("02", "Gas", "1") READING("01", "1", "a", "A")
                  READING("02", "2", "b", "B") READING("01", "3", "a", "C")
                      TYPE("a", "1", "0", "72") TYPE("b", "1", "0", "169") "%s%s%s" FEED_END,
              block("01", "1", 2, 3600, 1), block("02", "2", 2, 3600, 1),
              block("01", "3", 2, 86400, 1));
    expect_read();
    ck_assert_int_eq(file.channels.count, 1);
    ck_assert(customer_says(&file, "1 meter reading left out"));
    ck_assert(customer_says(&file, "2 sums of more than an hour are left out"));
    customer_free(&file);
    memset(&file, 0, sizeof(file));
    read_text(FEED READING("01", "1", "a", "A") TYPE("a", "1", "0", "72") "%s" FEED_END,
              block("01", "1", 2, 86400, 1));
    expect_refused(0, "no interval of an hour or less");
    customer_free(&file);
}
END_TEST

START_TEST(test_several_connection_points_are_refused_until_one_is_chosen)
{
#define TWO                                                                                        \
    FEED POINT("01", "House", "0") POINT("02", "Shed", "0") READING("01", "1", "a", "A")           \
        READING("02", "1", "a", "B") TYPE("a", "1", "0", "72") "%s%s" FEED_END
    const char *house = block("01", "1", 2, 3600, 1), *shed = block("02", "1", 2, 3600, 100);
    read_text(TWO, house, shed);
    expect_refused(6, "a second connection point, \"Shed\" after \"House\": --meter NAME");
    for (int k = 0; k < 2; k++) {
        customer_begin(&file);
        file.options.zone = &losangeles;
        file.options.meter = k ? "02" : "Shed";
        read_text(TWO, house, shed);
        expect_read();
        ck_assert_int_eq(file.channels.count, 1);
        ck_assert_float_eq(file.channels.channel[0].value[0], 100);
        customer_free(&file);
    }
    customer_begin(&file);
    file.options.meter = "Barn";
    read_text(TWO, house, shed);
    expect_refused(0, "is --meter the name of a connection point");
    customer_free(&file);
}
END_TEST

START_TEST(test_estimated_readings_are_counted)
{
    read_text(
        FEED READING("01", "1", "a", "A") TYPE(
            "a", "1", "0",
            "72") "<entry><link rel=\"up\" href=\"/UsagePoint/01/MeterReading/1/IntervalBlock\"/>"
                  "<IntervalBlock>"
                  "<IntervalReading><cost>10</cost><ReadingQuality><quality>8</quality></"
                  "ReadingQuality>"
                  "<timePeriod><duration>3600</duration><start>%d</start></timePeriod><value>5</"
                  "value>"
                  "<tou>1</tou></IntervalReading>"
                  "<IntervalReading><ReadingQuality><quality>17</quality></ReadingQuality>"
                  "<timePeriod><duration>3600</duration><start>%d</start></timePeriod><value>6</"
                  "value>"
                  "</IntervalReading></IntervalBlock></entry>" FEED_END,
        FIRST_S, FIRST_S + 3600);
    expect_read();
    ck_assert_uint_eq(file.channels.channel[0].estimated, 1);
    ck_assert_float_eq(file.channels.channel[0].value[0], 5);
    ck_assert_float_eq(file.channels.channel[0].value[1], 6);
    customer_free(&file);
}
END_TEST

START_TEST(test_a_file_of_another_zone_is_noticed)
{
    customer_begin(&file); /* Sydney's */
    read_text(FEED ZONE READING("01", "1", "a", "A") TYPE("a", "1", "0", "72") "%s" FEED_END,
              block("01", "1", 2, 3600, 1));
    expect_read();
    ck_assert(customer_notices(&file, 0, "its own standard time is UTC-8 h"));
    customer_free(&file);
}
END_TEST

START_TEST(test_what_is_wrong_is_told_with_its_line)
{
#define GOOD FEED READING("01", "1", "a", "A") TYPE("a", "1", "0", "72")
#define INTERVAL(period, value)                                                                    \
    "<entry><link href=\"/UsagePoint/01/MeterReading/1/IntervalBlock\"/>\n<IntervalBlock>\n"       \
    "<IntervalReading><timePeriod>" period "</timePeriod><value>" value                            \
    "</value></IntervalReading></IntervalBlock></entry>" FEED_END
#define PERIOD "<duration>3600</duration><start>1740816000</start>"
    static const struct {
        const char *text;
        size_t line;
        const char *wanted;
    } rows[] = {
        {"", 1, "is the file cut off?"},
        {FEED, 3, "is the file cut off?"},
        {GOOD "<entry>", 5, "is the file cut off?"},
        {GOOD "</entry>", 5, "mismatched tag"},
        {FEED FEED_END, 0, "no IntervalBlock in it"},
        {"<html><body>Sign in</body></html>", 0, "no IntervalBlock in it"},
        {GOOD INTERVAL(PERIOD, "1,5"), 7, "value \"1,5\" is no number"},
        {GOOD INTERVAL("<duration>3600</duration><start>x</start>", "1"), 7, "start \"x\""},
        {GOOD INTERVAL("<duration>3600</duration>", "1"), 7, "start and duration"},
        {GOOD INTERVAL("<duration>1e9</duration><start>1</start>", "1"), 7, "duration \"1e9\""},
        {FEED TYPE("a", "one", "0", "72") FEED_END, 3, "flowDirection \"one\""},
        {FEED READING("01", "1", "a", "A") TYPE("a", "1", "99", "72") INTERVAL(PERIOD, "1"), 3,
         "a power of ten"},
        {FEED READING("01", "1", "a", "A") READING("01", "2", "a", "B")
             TYPE("a", "1", "0", "72") "<entry>\n<IntervalBlock><IntervalReading>" PERIOD
                                       "</IntervalReading></IntervalBlock>"
                                       "</entry>" FEED_END,
         7, "do not say of which MeterReading"},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        read_text("%s", rows[k].text);
        expect_refused(rows[k].line, rows[k].wanted);
    }
    read_text(GOOD "%s%s" FEED_END, block("01", "1", 2, 3600, 1), block("01", "1", 2, 3600, 1));
    expect_refused(10, "a value for this time already, on line 6");
    read_text(GOOD "<entry><link href=\"/UsagePoint/01/MeterReading/"
                   "0123456789012345678901234567890123456789012345678901234567890123456789\"/>");
    expect_refused(5, "over 63 characters");
    customer_free(&file);
}
END_TEST

START_TEST(test_hostile_xml_ends_in_an_error)
{
    read_text("<?xml version=\"1.0\"?>\n<!DOCTYPE feed [\n<!ENTITY a \"aaaaaaaaaa\">\n"
              "<!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;\">\n"
              "<!ENTITY c \"&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;\">]>\n<feed>&c;</feed>");
    expect_refused(2, "a document type");
    read_text("<!DOCTYPE feed SYSTEM \"file:///etc/passwd\">\n<feed/>");
    expect_refused(1, "a document type");
    char *deep = NULL;
    size_t size;
    FILE *to = open_memstream(&deep, &size);
    for (int k = 0; k < 100000; k++)
        fputs("<feed>\n", to);
    fclose(to);
    read_text("%s", deep);
    expect_refused(65, "over 64 deep");
    free(deep);
    to = open_memstream(&deep, &size);
    fputs("<feed>\n<entry ", to);
    for (int k = 0; k < 400000; k++)
        fprintf(to, "a%d='x'\n", k);
    fclose(to);
    read_text("%s", deep);
    ck_assert_msg(!file.read && strstr(customer_told(&file), "a tag of over a megabyte"), "%s",
                  customer_told(&file));
    customer_free(&file);
    free(deep);
    memset(&file, 0, sizeof(file));
    customer_free(&file);
}
END_TEST

/* Each block of a month's readings is 300 kB. What grows is the channel: 4 bytes a reading. */
START_TEST(test_of_a_large_file_no_more_is_in_memory_than_its_values)
{
    char path[] = "/tmp/sluice-large-XXXXXX";
    int descriptor = mkstemp(path);
    ck_assert_int_ge(descriptor, 0);
    FILE *to = fdopen(descriptor, "w");
    enum { READINGS = 100000 };
    fputs(GOOD "<entry><link href=\"/UsagePoint/01/MeterReading/1/IntervalBlock\"/>"
               "<IntervalBlock>\n",
          to);
    for (int k = 0; k < READINGS; k++)
        fprintf(to,
                "<IntervalReading>\n  <timePeriod>\n    <duration>900</duration>\n    "
                "<start>%d</start>\n  </timePeriod>\n  <value>%d</value>\n</IntervalReading>\n",
                FIRST_S + k * 900, k % 1000);
    fputs("</IntervalBlock></entry>" FEED_END, to);
    long length = ftell(to);
    fclose(to);
    struct rusage before, after;
    customer_begin(&file);
    const struct days_file given = {.path = path,
                                    .options = &file.options,
                                    .channels = &file.channels,
                                    .found = &file.found,
                                    .report = &file.report};
    getrusage(RUSAGE_SELF, &before);
    ck_assert_msg(days_espi_read(&given), "%s", customer_told(&file));
    getrusage(RUSAGE_SELF, &after);
    unlink(path);
    ck_assert_int_gt(length, 12 << 20);
    ck_assert_uint_eq(file.channels.channel[0].count, READINGS);
    ck_assert_float_eq(file.channels.channel[0].value[99999], 999);
    ck_assert_int_lt(after.ru_maxrss - before.ru_maxrss, 8 << 10); /* kB */
    customer_free(&file);
}
END_TEST

START_TEST(test_xml_is_known_by_its_first_bytes)
{
    static const char *const are[] = {"<?xml version", "<feed", "\xef\xbb\xbf<?xml", "\n  <feed"};
    static const char *const others[] = {"", "time;use", "100,NEM12", "  ", "PK\x03\x04"};
    for (size_t k = 0; k < COUNT_OF(are); k++)
        ck_assert(days_espi_is((const unsigned char *)are[k], strlen(are[k])));
    for (size_t k = 0; k < COUNT_OF(others); k++)
        ck_assert(!days_espi_is((const unsigned char *)others[k], strlen(others[k])));
    ck_assert(days_espi_is((const unsigned char *)"\xff\xfe<\0?\0", 6));
    customer_free(&file);
}
END_TEST

/* As test_nem12.c has it. */
START_TEST(test_spoilt_files_are_read_or_refused)
{
    char *whole = NULL;
    ck_assert_int_ge(asprintf(&whole,
                              FEED POINT("01", "Home", "0") ZONE READING("01", "1", "a", "A")
                                  TYPE("a", "1", "0", "72") "%s" FEED_END,
                              block("01", "1", 8, 900, 100)),
                     0);
    static const char marks[] = "<>/&\"'=0179-ae \n\x01\xff";
    size_t length = strlen(whole);
    char *spoilt = malloc(length + 1);
    uint64_t seed = 11;
    for (int k = 0; k < 3000; k++) {
        memcpy(spoilt, whole, length + 1);
        size_t cut = k % 5 == 0 ? seeded_next(&seed) % length : length;
        for (int times = 0; times < 2; times++)
            spoilt[seeded_next(&seed) % length] = marks[seeded_next(&seed) % (COUNT_OF(marks) - 1)];
        customer_begin(&file);
        customer_read(&file, days_espi_read, spoilt, cut);
        ck_assert(file.read || file.report.stop_count > 0);
        customer_free(&file);
    }
    free(spoilt);
    free(whole);
    customer_free(&file);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_readings_are_what_their_types_say,
        test_entries_may_come_in_any_order,
        test_directions_that_are_not_said_are_unknown,
        test_gas_counters_and_sums_of_days_are_left_out,
        test_several_connection_points_are_refused_until_one_is_chosen,
        test_estimated_readings_are_counted,
        test_a_file_of_another_zone_is_noticed,
        test_what_is_wrong_is_told_with_its_line,
        test_hostile_xml_ends_in_an_error,
        test_of_a_large_file_no_more_is_in_memory_than_its_values,
        test_xml_is_known_by_its_first_bytes,
        test_spoilt_files_are_read_or_refused,
    };
    return suite_run("espi", tests, COUNT_OF(tests));
}
