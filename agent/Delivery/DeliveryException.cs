namespace Cardassay.Agent.Delivery;

/// <summary>The collector refused the stream. The message says why and what to do; the journal keeps everything.</summary>
internal sealed class DeliveryException(string message) : Exception(message);
