import chipfall.ChipfallDoor;
import java.io.ByteArrayOutputStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;

/** The binding on a desktop JVM, with protobuf written by hand. Silent and 0 when all went right. */
public final class DoorTest {
    private static int failures = 0;

    private static void check(boolean so, String what) {
        if (so) return;
        System.err.println("not so: " + what);
        ++failures;
    }

    private static void putVarint(ByteArrayOutputStream to, long value) {
        while ((value & ~0x7FL) != 0) {
            to.write((int) (value & 0x7F | 0x80));
            value >>>= 7;
        }
        to.write((int) value);
    }

    /** One length-delimited field. */
    private static byte[] field(int number, byte[]... parts) {
        ByteArrayOutputStream out = new ByteArrayOutputStream();
        putVarint(out, (long) number << 3 | 2);
        putVarint(out, Arrays.stream(parts).mapToLong(part -> part.length).sum());
        for (byte[] part : parts) out.writeBytes(part);
        return out.toByteArray();
    }

    private static byte[] text(int number, String value) {
        return field(number, value.getBytes(StandardCharsets.UTF_8));
    }

    private static byte[] number(int number, long value) {
        ByteArrayOutputStream out = new ByteArrayOutputStream();
        putVarint(out, (long) number << 3);
        putVarint(out, value);
        return out.toByteArray();
    }

    private static boolean has(byte[] bytes, String part) {
        return new String(bytes, StandardCharsets.ISO_8859_1)
                .contains(new String(part.getBytes(StandardCharsets.UTF_8), StandardCharsets.ISO_8859_1));
    }

    /** Field 3 of Response stands right behind its format. */
    private static boolean hasMistakes(byte[] response) {
        return response.length > 2 && response[2] == (3 << 3 | 2);
    }

    private static byte[] note(String value) {
        return field(22, field(29, text(1, value)));
    }

    public static void main(String[] arguments) throws Exception {
        System.load(arguments[0]);
        Path folder = Files.createTempDirectory("chipfall-j\u00e4va-\ud83e\udea3");
        try (ChipfallDoor door = new ChipfallDoor(folder.toString(), false)) {
            byte[] sheet = Files.readAllBytes(Path.of(arguments[1]));
            byte[] loaded = door.call(field(16, field(1, field(2, sheet)), number(2, 1)));
            check(!hasMistakes(loaded), "the demo shop loads");
            long changes = door.changes();
            String[] notes = {"S\u00e4ge \u2713", "\ud83e\udeb5 dust \ud83d\udd25 \ud83d\udc69\u200d\ud83c\udfed", "\u5de5\u4f5c\u53f0"};
            for (String one : notes) check(has(door.call(note(one)), one), "recorded: " + one);
            check(door.changes() > changes, "changes grew");
            byte[] history = door.call(field(24));
            for (String one : notes) check(has(history, one), "in the history: " + one);
            check(hasMistakes(door.call(note(""))), "an empty note is refused with words");
            check(hasMistakes(door.call(new byte[0])), "an empty request gets an answer");
            check(hasMistakes(door.call(new byte[] {(byte) 0xFF, 1, 2})), "and so does noise");
            // Chance of the JVM reaches the door: a joining is begun with a credential made of it.
            String code = "CF1*HUB*8443*" + "0".repeat(52) + "*" + "0".repeat(16);
            check(!hasMistakes(door.call(field(44, text(1, code), number(2, 1)))), "joining begins");
            try {
                door.call(null);
                check(false, "null is refused");
            } catch (NullPointerException expected) {
                // as it should be
            }
        }
        try (ChipfallDoor again = new ChipfallDoor(folder.toString(), true)) {
            check(has(again.call(field(24)), "\ud83e\udeb5"), "kept for the next door");
        }
        ChipfallDoor closed = new ChipfallDoor("", false);
        closed.close();
        closed.close();
        try {
            closed.call(new byte[0]);
            check(false, "a closed door is refused");
        } catch (IllegalStateException expected) {
            // as it should be
        }
        try {
            new ChipfallDoor(folder.resolve("none").toString(), false).close();
            check(false, "a folder that is not there is refused");
        } catch (ChipfallDoor.Refused refused) {
            check(has(refused.response(), "no such folder"), "with words");
        }
        check(!ChipfallDoor.zoneRules("Nowhere/At_All", new byte[] {1}), "no zone's rules");
        check(ChipfallDoor.version().startsWith("0."), "the version is told");
        check(ChipfallDoor.liveHandles() == 0, "nothing is left open");
        threads(folder);
        System.exit(failures == 0 ? 0 : 1);
    }

    /** Calls of one door from many threads wait for each other. */
    private static void threads(Path folder) throws Exception {
        try (ChipfallDoor door = new ChipfallDoor(folder.toString(), true)) {
            Thread[] all = new Thread[4];
            for (int i = 0; i < all.length; ++i) {
                all[i] = new Thread(() -> {
                    for (int n = 0; n < 10; ++n) check(!hasMistakes(door.call(note("thread"))), "a thread's note");
                });
                all[i].start();
            }
            for (Thread one : all) one.join();
        }
        check(ChipfallDoor.liveHandles() == 0, "nothing is left open by threads");
    }
}
