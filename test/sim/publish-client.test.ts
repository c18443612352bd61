// The publisher's session rules, against a scripted server on a real socket.
// Clause numbers are those of OASIS MQTT Version 3.1.1; the order cases are the note of its section 4.6.
import { afterEach, describe, expect, it } from 'vitest';
import type { IPublishPacket, Packet } from 'mqtt-packet';
import type { TrackerClientOptions } from '../../sim/publish/client-options.ts';
import { TrackerClient } from '../../sim/publish/client.ts';
import { sharedWheel } from '../../sim/publish/timer-wheel.ts';
import type { Qos } from '../../sim/scenario/scenario.ts';
import { clientOptions, Recorder, ScriptedServer, type Visit } from './publish-support.ts';

const ends: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const end of ends.splice(0)) await end();
});

async function start(
  onPacket: (packet: Packet, visit: Visit, index: number) => void,
  more: Partial<TrackerClientOptions> = {},
): Promise<{ server: ScriptedServer; client: TrackerClient; told: Recorder }> {
  const server = new ScriptedServer(onPacket);
  const told = new Recorder();
  const client = new TrackerClient(clientOptions(await server.listen(), more), told);
  ends.push(async () => {
    await Promise.all([client.close(), server.close()]);
  });
  client.connect();
  await told.until(() => client.state === 'connected');
  return { server, client, told };
}

function publish(client: TrackerClient, n: number, qos: Qos = 1): boolean {
  return client.publish(n, 'a/b', Buffer.from(String(n)), qos, false, 0);
}

function publishes(visit: Visit | undefined): IPublishPacket[] {
  return (visit?.packets ?? []).filter((packet) => packet.cmd === 'publish');
}

function texts(visit: Visit | undefined): string[] {
  return publishes(visit).map((packet) => `${packet.payload.toString()}${packet.dup ? ' dup' : ''}`);
}

function ack(packet: Packet, visit: Visit): void {
  if (packet.messageId !== undefined) visit.send({ cmd: 'puback', messageId: packet.messageId });
}

describe('window', () => {
  it('is never exceeded, and room is told once half of it is free', async () => {
    const { server, client, told } = await start(() => {}, { inFlight: 3 });
    const taken = [0, 1, 2, 3, 4].map((n) => publish(client, n));
    expect(taken).toEqual([true, true, true, false, false]);
    const [visit] = server.visits;
    await server.until(() => publishes(visit).length === 3);
    expect(client.unacked).toBe(3);
    ack(publishes(visit)[0] as Packet, visit as Visit);
    await told.until(() => told.of('acked').length === 1);
    expect(told.of('room')).toEqual([]);
    ack(publishes(visit)[1] as Packet, visit as Visit);
    await told.until(() => told.of('room').length === 1);
    expect(told.of('acked')).toEqual(['acked 0', 'acked 1']);
    expect([3, 4, 5].map((n) => publish(client, n))).toEqual([true, true, false]);
    await server.until(() => publishes(visit).length === 5);
    expect(new Set(publishes(visit).map((packet) => packet.messageId)).size).toBe(5);
  });

  it('has no say over QoS 0', async () => {
    const { server, client } = await start(() => {}, { inFlight: 1 });
    expect([0, 1, 2].map((n) => publish(client, n, 0))).toEqual([true, true, true]);
    await server.until(() => publishes(server.visits[0]).length === 3);
    expect(publishes(server.visits[0]).map((packet) => packet.messageId)).toEqual([
      undefined,
      undefined,
      undefined,
    ]);
    expect(client.unacked).toBe(0);
  });
});

describe('sending again, the note of section 4.6', () => {
  it('window 4: the broker may see 1,2,3,2,3,4, with DUP and the same packet ids [MQTT-4.4.0-1, 3.3.1-1]', async () => {
    const { server, client, told } = await start(
      (packet, visit, index) => {
        if (packet.cmd !== 'publish') return;
        if (index > 0 || packet.payload.toString() === '1') ack(packet, visit);
        if (index === 0 && publishes(visit).length === 3) visit.socket.destroy();
      },
      { inFlight: 4 },
    );
    for (const n of [1, 2, 3]) publish(client, n);
    await told.until(() => told.of('sentAgain').length > 0 && client.unacked === 0);
    publish(client, 4);
    await told.until(() => told.log.includes('acked 4'));
    expect(texts(server.visits[0])).toEqual(['1', '2', '3']);
    const again = texts(server.visits[1]);
    // Whether the ack of 1 got through before the end of the connection is up to the network.
    expect(again.slice(-3)).toEqual(['2 dup', '3 dup', '4']);
    const idOf = (visit: Visit | undefined, text: string) =>
      publishes(visit).find((packet) => packet.payload.toString() === text)?.messageId;
    expect(idOf(server.visits[1], '3')).toBe(idOf(server.visits[0], '3'));
  });

  it('window 1: only the last one comes twice, 1,2,3,3,4', async () => {
    const { server, client, told } = await start(
      (packet, visit, index) => {
        if (packet.cmd !== 'publish') return;
        if (index === 0 && packet.payload.toString() === '3') visit.socket.destroy();
        else ack(packet, visit);
      },
      { inFlight: 1 },
    );
    for (const n of [1, 2, 3, 4]) {
      await told.until(() => client.state === 'connected' && client.unacked === 0);
      await told.until(() => publish(client, n));
    }
    await told.until(() => told.log.includes('acked 4'));
    expect([...texts(server.visits[0]), ...texts(server.visits[1])]).toEqual(['1', '2', '3', '3 dup', '4']);
  });

  it('a clean session: as new messages, without DUP', async () => {
    const { server, client, told } = await start(
      (packet, visit, index) => {
        if (index === 0) visit.socket.destroy();
        else ack(packet, visit);
      },
      { cleanSession: true },
    );
    publish(client, 1);
    await told.until(() => told.log.includes('acked 1'));
    expect(texts(server.visits[1])).toEqual(['1']);
    expect(told.of('sentAgain')).toEqual(['sentAgain 1']);
  });
});

describe('QoS 2 (4.3.3)', () => {
  it('after PUBREC it is PUBREL that is sent again, never PUBLISH', async () => {
    const { server, client, told } = await start((packet, visit, index) => {
      const { messageId } = packet;
      if (messageId === undefined) return;
      if (index === 0 && packet.cmd === 'publish') visit.send({ cmd: 'pubrec', messageId });
      if (index === 0 && packet.cmd === 'pubrel') visit.socket.destroy();
      if (index === 1 && packet.cmd === 'pubrel') visit.send({ cmd: 'pubcomp', messageId });
    });
    publish(client, 7, 2);
    await told.until(() => told.log.includes('acked 7'));
    expect(server.visits[0]?.packets.map((packet) => packet.cmd)).toEqual(['publish', 'pubrel']);
    expect(server.visits[1]?.packets.map((packet) => packet.cmd)).toEqual(['pubrel']);
    const ids = server.visits.flatMap((visit) => visit.packets.map((packet) => packet.messageId));
    expect(new Set(ids).size).toBe(1);
  });

  it('neither PUBACK nor an early PUBCOMP ends it', async () => {
    const { server, client, told } = await start((packet, visit) => {
      const { messageId } = packet;
      if (messageId === undefined || packet.cmd !== 'publish') return;
      visit.send({ cmd: 'puback', messageId });
      visit.send({ cmd: 'pubcomp', messageId });
      visit.send({ cmd: 'pubrec', messageId });
    });
    publish(client, 1, 2);
    await server.until(() => server.visits[0]?.packets.at(-1)?.cmd === 'pubrel');
    expect(told.of('acked')).toEqual([]);
    expect(client.unacked).toBe(1);
  });
});

describe('how a link ends', () => {
  it('clean: DISCONNECT, then the end of the stream (3.14)', async () => {
    const { server, client } = await start(() => {});
    const ended = new Promise<void>((resolve) => server.visits[0]?.socket.once('end', () => resolve()));
    client.drop('clean');
    await ended;
    expect(server.visits[0]?.packets.map((packet) => packet.cmd)).toEqual(['disconnect']);
    expect(client.state).toBe('idle');
  });

  it('reset: ECONNRESET, no DISCONNECT', async () => {
    const { server, client } = await start(() => {});
    const error = new Promise<NodeJS.ErrnoException>((resolve) => {
      server.visits[0]?.socket.once('error', resolve);
    });
    client.drop('reset');
    expect((await error).code).toBe('ECONNRESET');
    expect(server.visits[0]?.packets).toEqual([]);
  });

  it('half-open: the old socket stays until the new CONNACK, its acknowledgements unheard', async () => {
    const { server, client, told } = await start(ack);
    publish(client, 1);
    client.drop('half-open');
    await server.until(() => publishes(server.visits[0]).length === 1);
    expect(server.visits[0]?.socket.readyState).toBe('open');
    expect(told.of('acked')).toEqual([]);
    const error = new Promise<NodeJS.ErrnoException>((resolve) => {
      server.visits[0]?.socket.once('error', resolve);
    });
    client.connect();
    await told.until(() => told.log.includes('acked 1'));
    expect(texts(server.visits[1])).toEqual(['1 dup']);
    expect((await error).code).toBe('ECONNRESET');
  });
});

describe('keep alive (3.1.2.10)', () => {
  it('pings when nothing was sent, and gives the link up when nothing answers', async () => {
    const { server, client, told } = await start(() => {}, { keepAliveS: 1 });
    // The shared wheel's ticks, by hand: three are three quarters of a second.
    for (let tick = 0; tick < 3; tick++) sharedWheel.advance();
    await server.until(() => server.visits[0]?.packets.at(-1)?.cmd === 'pingreq');
    for (let tick = 0; tick < 3; tick++) sharedWheel.advance();
    await told.until(() => told.of('lost').length > 0);
    expect(told.of('lost')[0]).toBe('lost the broker didn’t answer a PINGREQ');
    await told.until(() => client.state === 'connected');
  });
});

describe('a broker that isn’t one', () => {
  it('is left when it talks something else', async () => {
    const { server, told } = await start((_packet, visit) =>
      visit.socket.write('HTTP/1.1 400 Bad Request\r\n'),
    );
    await server.until(() => server.visits.length > 0);
    expect(told.log).toEqual(['connected']);
    server.visits[0]?.socket.write(Buffer.from('4003', 'hex'));
    await told.until(() => told.of('lost').length > 0);
    expect(told.of('lost')[0]).toMatch(/aren’t MQTT/);
  });

  it('is tried again when it isn’t there, and said why', async () => {
    const server = new ScriptedServer();
    const port = await server.listen();
    await server.close();
    const told = new Recorder();
    const client = new TrackerClient(clientOptions(port), told);
    client.connect();
    await told.until(() => told.of('lost').length >= 2);
    expect(told.of('lost')[0]).toMatch(/ECONNREFUSED/);
    await client.close();
    expect(client.state).toBe('closed');
  });
});
