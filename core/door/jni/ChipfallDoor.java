package chipfall;

/**
 * The door to Chipfall for the JVM and Android: bytes of a Request in, bytes of a Response out
 * (core/proto/door.proto). Text in them is UTF-8, so nothing here turns text into other text.
 *
 * <p>Any thread may call; calls of one door wait for each other and for the disk, so keep them off
 * the thread that draws. Close it once; using it afterwards throws IllegalStateException.
 *
 * <p>Put the library's path into System.load, or its name into System.loadLibrary, before.
 */
public final class ChipfallDoor implements AutoCloseable {
    /** Makes random bytes that nobody can guess, from java.security.SecureRandom. */
    private static final java.security.SecureRandom RANDOM = new java.security.SecureRandom();

    private long door;

    /**
     * Opens the door.
     *
     * @param dataFolder an existing folder; empty: nothing is kept
     * @param mustExist refuse a folder without a ledger
     * @throws Refused with a serialized Response that says why
     */
    public ChipfallDoor(String dataFolder, boolean mustExist) throws Refused {
        byte[] folder = dataFolder.getBytes(java.nio.charset.StandardCharsets.UTF_8);
        Object[] refused = new Object[1];
        door = open(folder, mustExist, refused);
        if (door == 0) {
            throw new Refused(refused[0] == null ? new byte[0] : (byte[]) refused[0]);
        }
    }

    /** The answer to a request; any bytes get one. */
    public synchronized byte[] call(byte[] request) {
        return call(opened(), request);
    }

    /** Grows whenever something on a screen may have changed. */
    public synchronized long changes() {
        return changes(opened());
    }

    @Override
    public synchronized void close() {
        if (door != 0) {
            close(door);
        }
        door = 0;
    }

    /** The library's own version, such as "0.1.0". */
    public static native String version();

    /** Makes the rules of a time zone known where the device has none: a compiled zone file. */
    public static native boolean zoneRules(String name, byte[] rules);

    /** Doors and bytes that nobody has given back; 0 when all is tidy. For tests. */
    public static native long liveHandles();

    /** The door was not opened. */
    public static final class Refused extends Exception {
        private static final long serialVersionUID = 1;
        private final byte[] response;

        Refused(byte[] response) {
            super("the door was not opened; the response says why");
            this.response = response;
        }

        /** A serialized Response with mistakes; empty where there was no memory for it. */
        public byte[] response() {
            return response.clone();
        }
    }

    private long opened() {
        if (door == 0) {
            throw new IllegalStateException("the door is closed");
        }
        return door;
    }

    // Called by the library, on the calling thread.
    private static long nowMs() {
        return System.currentTimeMillis();
    }

    private static byte[] randomBytes(int size) {
        byte[] bytes = new byte[size];
        RANDOM.nextBytes(bytes);
        return bytes;
    }

    private static native long open(byte[] folder, boolean mustExist, Object[] refused);

    private static native byte[] call(long door, byte[] request);

    private static native long changes(long door);

    private static native void close(long door);
}
