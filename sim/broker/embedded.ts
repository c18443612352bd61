// An MQTT 3.1.1 broker inside the process, on the loopback address: aedes behind rights, a byte cap and a tap.
import { createServer, type AddressInfo, type Server, type Socket } from 'node:net';
import { Aedes, type AedesOptions, type Client } from 'aedes';
import { BadInput } from '../errors.ts';
import { PacketCap } from './packet-cap.ts';
import type { Tap, TappedMessage } from './tap.ts';
import { filterCovers } from './topics.ts';

/** What a client may do. */
export interface Rights {
  /** Exact topic names. */
  readonly publish: readonly string[];
  /** Topic filters; a narrower subscription is allowed too. */
  readonly subscribe: readonly string[];
}

export interface BrokerOptions {
  /** Default: the loopback address. */
  readonly host?: string;
  /** 0 or absent: any free port. */
  readonly port?: number;
  /** The client's rights; undefined turns it away with CONNACK 4, bad user name or password. */
  readonly authorise: (
    clientId: string,
    username: string | undefined,
    password: string | undefined,
  ) => Rights | undefined;
  readonly tap?: Tap;
  /** Client id of the subscriber whose connection is watched. */
  readonly watch?: string;
  /** Largest packet, with its header; a larger one closes its connection. */
  readonly maxPacketBytes?: number;
  /** How long a subscriber may take no bytes before it's dropped, so that it can't hold up the others. */
  readonly drainTimeoutMs?: number;
}

export interface BrokerStats {
  /** Clients connected now. */
  connected: number;
  /** Messages accepted from clients, wills among them. */
  accepted: number;
  /** Log-ins, publishes, subscriptions and packets turned away. */
  denied: number;
  /** How often the watched client's connection ended: what was sent to it at QoS 0 around then may be lost. */
  watchedDrops: number;
}

export interface Broker {
  readonly host: string;
  readonly port: number;
  readonly stats: Readonly<BrokerStats>;
  /** Messages of QoS 1 and 2 that a session has still to get, or to acknowledge. */
  owed(clientId: string): Promise<number>;
  /** Closes every connection (wills are published), then the port. The tap stays open: it's the caller's. */
  close(): Promise<void>;
}

const MAX_PACKET_BYTES = 256 * 1024;
const DRAIN_TIMEOUT_MS = 3000;

/** Starts a broker. BadInput when the port is taken, or the address isn't this machine's. */
export async function startBroker(options: BrokerOptions): Promise<Broker> {
  const host = options.host ?? '127.0.0.1';
  const stats: BrokerStats = { connected: 0, accepted: 0, denied: 0, watchedDrops: 0 };
  const broker = new TappedBroker(aedesOptions(options, stats), (client, message) => {
    stats.accepted += 1;
    options.tap?.record(client, message);
  });
  await broker.listen();
  broker.on('client', () => (stats.connected += 1));
  broker.on('clientDisconnect', ({ id }) => {
    stats.connected -= 1;
    if (id === options.watch) stats.watchedDrops += 1;
  });

  const maxPacketBytes = options.maxPacketBytes ?? MAX_PACKET_BYTES;
  const sockets = new Set<Socket>();
  const server = createServer({ noDelay: true }, (socket) => {
    sockets.add(socket);
    socket.once('close', () => sockets.delete(socket));
    capPackets(socket, maxPacketBytes, () => (stats.denied += 1));
    broker.handle(socket);
  });
  try {
    await listen(server, host, options.port ?? 0);
  } catch (error) {
    broker.close();
    throw error;
  }
  return {
    host,
    port: (server.address() as AddressInfo).port,
    stats,
    owed: (clientId) => broker.owed(clientId),
    async close() {
      const closed = new Promise((resolve) => server.close(resolve));
      await new Promise<void>((resolve) => broker.close(resolve));
      for (const socket of sockets) socket.destroy();
      await closed;
    },
  };
}

/**
 * Tells of each message a client got accepted, in the order in which it was.
 * The `published` hook of aedes comes too late for that: only after every subscriber took the message.
 */
class TappedBroker extends Aedes {
  readonly #accepted: (clientId: string, message: TappedMessage) => void;

  constructor(options: AedesOptions, accepted: (clientId: string, message: TappedMessage) => void) {
    super(options);
    this.#accepted = accepted;
  }

  async owed(clientId: string): Promise<number> {
    let count = 0;
    const { persistence } = this as unknown as { persistence: Persistence };
    for await (const _ of persistence.outgoingStream({ id: clientId })) count += 1;
    return count;
  }

  // aedes itself calls this with the client between; its types only know the short form.
  override publish(...args: readonly unknown[]): void {
    const [packet, client] = args as readonly [TappedMessage & { dup?: boolean }, { id?: unknown } | null];
    if (typeof client === 'object' && typeof client?.id === 'string') {
      this.#accepted(client.id, packet);
    }
    (super.publish as (...all: readonly unknown[]) => void)(...args);
  }
}

/** What aedes-persistence offers, of which aedes's types say nothing. */
interface Persistence {
  outgoingStream(client: { readonly id: string }): AsyncIterable<unknown>;
}

interface Held {
  readonly publish: ReadonlySet<string>;
  readonly subscribe: readonly string[];
}

function aedesOptions(options: BrokerOptions, stats: BrokerStats): AedesOptions {
  const held = new WeakMap<Client, Held>();
  return {
    id: 'wayproof',
    concurrency: 1000,
    drainTimeout: options.drainTimeoutMs ?? DRAIN_TIMEOUT_MS,
    authenticate(client, username, password, done) {
      const rights = options.authorise(client.id, username, password?.toString('utf8'));
      if (rights) {
        held.set(client, { publish: new Set(rights.publish), subscribe: rights.subscribe });
        done(null, true);
        return;
      }
      stats.denied += 1;
      // 4 of Table 3.1: bad user name or password.
      done(Object.assign(new Error('bad user name or password'), { returnCode: 4 }), null);
    },
    authorizePublish(client, packet, done) {
      // Without a client it's a will of an earlier run, which had its rights then.
      if (!client || held.get(client)?.publish.has(packet.topic)) {
        done(null);
        return;
      }
      stats.denied += 1;
      // 3.1.1 leaves two ways [MQTT-3.3.5-2]; closing is the one that never acknowledges what wasn't taken.
      done(new Error('no right to publish there'));
    },
    authorizeSubscribe(client, subscription, done) {
      const allowed = held.get(client)?.subscribe.some((filter) => filterCovers(filter, subscription.topic));
      if (!allowed) stats.denied += 1;
      // null = SUBACK 0x80 for this filter.
      done(null, allowed ? subscription : null);
    },
  };
}

/** aedes reads with `read`; a packet's first bytes tell its size there, before its body is gathered. */
function capPackets(socket: Socket, maxBytes: number, denied: () => void): void {
  const cap = new PacketCap(maxBytes);
  const read = socket.read.bind(socket);
  socket.read = (size?: number): unknown => {
    const chunk: unknown = read(size);
    if (!(chunk instanceof Uint8Array) || cap.accepts(chunk)) return chunk;
    denied();
    socket.destroy();
    return null;
  };
}

async function listen(server: Server, host: string, port: number): Promise<void> {
  await new Promise<void>((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => {
      reject(
        new BadInput(
          error.code === 'EADDRINUSE'
            ? `broker port ${port}: expected a free port, found one in use on ${host}. Mend: give another port, or 0 for any.`
            : `broker address ${host}:${port}: expected an address to listen on, found ${error.code ?? error.message}. Mend: give another address or port.`,
        ),
      );
    });
    server.listen({ host, port, backlog: 4096 }, resolve);
  });
}
